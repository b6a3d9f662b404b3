"""Joining a pool of groups and what it brought, for stewards; each member's own choice."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import form_handling, rendering
from measurements.pages.pooling import presenters
from measurements.pages.pooling.forms import JoinForm
from measurements.selectors.pooling import pool
from measurements.selectors.reference import reference
from measurements.services.pooling import copies, seats


def show_steward_pool(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the pool that the group is in, or how to join one. POST: join, fetch or leave."""
    act = request.POST.get("act", "join") if request.method == "POST" else ""
    form = JoinForm(
        request.POST if act == "join" else None, initial={"group_name": reference.get_group_name()}
    )
    target = reverse("pages:steward_pool")
    if act == "join":
        answer = form_handling.submit_form(
            request,
            form,
            lambda: seats.join_pool(by=viewer, **form.cleaned_data),
            said="The group is in the pool. Its next release sends what members chose.",
            target=target,
        )
        if answer is not None:
            return answer
    elif act:
        _act_in_pool(request, viewer, act)
        return HttpResponseRedirect(target)
    seat = pool.get_seat(viewer)
    context = {
        "form": form,
        "seat": seat,
        "copy": pool.get_copy(),
        "offsets": presenters.write_offsets(seat.standing.get("offsets", ())) if seat else [],
        "compared": seat.standing.get("offsets", []) if seat else [],
        "groups": pool.list_kept_groups(viewer),
    }
    status = 422 if form.errors else 200
    return rendering.render_page(request, "pooling/steward_pool.html", context, status=status)


def _act_in_pool(request: HttpRequest, viewer: Viewer, act: str) -> None:
    """Fetch the newest pooled release, or leave the pool; say what came of it."""
    try:
        if act == "leave":
            seats.leave_pool(by=viewer)
            messages.success(request, "The group left the pool. The keeper withdrew every vote of it.")
        elif act == "fetch":
            _fetch(request)
        else:
            raise BenchnightError("pool.act", "There is no such act.", kind="not_found")
    except BenchnightError as error:
        if error.kind in ("forbidden", "not_found"):
            raise
        messages.error(request, error.detail)


def _fetch(request: HttpRequest) -> None:
    copy = copies.fetch_release()
    if copy is None:
        messages.success(request, "There is no newer pooled release.")
        return
    gained = copy.gained
    messages.success(request, f"Fetched: {gained['now']} designs with a verdict, {gained['before']} before.")


def show_own_choice(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: what the pool is, and the own choice. POST: choose."""
    if request.method == "POST":
        takes_part = request.POST.get("takes_part") == "yes"
        seats.choose_pool(by=viewer, takes_part=takes_part)
        said = (
            "From the group's next release on your votes go to the pool."
            if takes_part
            else "From the group's next release on none of your votes is in the pool."
        )
        messages.success(request, said)
        return HttpResponseRedirect(reverse("pages:account_pool"))
    in_pool, chosen = pool.get_choice(viewer)
    return rendering.render_page(request, "pooling/choice.html", {"in_pool": in_pool, "chosen": chosen})
