"""Stewards invite, give roles, suspend, and end what an account is signed in with; and read the log.

The query names an account, and no log of the server keeps queries.
"""

from __future__ import annotations

from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import form_handling, rendering
from measurements.pages.steward import presenters
from measurements.pages.steward.forms import InviteForm, LogForm, RoleForm
from measurements.pages.steward.log_sentences import describe_line
from measurements.selectors.accounts import members
from measurements.selectors.operations import audit
from measurements.services.accounts import membership, second_factors
from measurements.services.accounts.accounts import LINK_HOURS
from measurements.services.nights import persons

PAGE_SIZE = 50
# they give somebody a way in or a right, so the steward shows who is asking; taking one away asks for nothing
GIVING_ACTS = frozenset({"link", "role", "unsuspend", "give_kit", "factors"})
ACTION_MESSAGES = {
    "suspend": "The account is suspended: its sessions and tokens have ended.",
    "unsuspend": "The account is open again. Old sessions and tokens stay ended.",
    "revoke": "Every session, token and unused link of the account has ended.",
    "role": "The role is changed; it counts at once.",
    "give_kit": "A kit keeper now: the group’s devices are theirs to see and edit.",
    "take_kit": "No kit keeper any more.",
    "factors": "The second factor is taken off: passkeys, app and recovery codes.",
}


def show_member_list(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the accounts. POST: invite somebody; the answer shows the link, once."""
    form = InviteForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            secret = membership.invite_member(by=viewer, **form.cleaned_data)
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            return _render_link(request, " ".join(form.cleaned_data["name"].split()), secret)
    text = request.GET.get("q", "")[:64]
    page = members.list_members(viewer, text=text, cursor=request.GET.get("cursor"), limit=PAGE_SIZE)
    following = urlencode({"q": text, "cursor": page.next_cursor or ""})
    context = {
        "form": form,
        "text": text,
        "rows": [(row, urlencode({"name": row.name})) for row in page.results],
        "next_page": f"?{following}" if page.next_cursor else "",
    }
    return rendering.render_page(
        request, "steward/accounts.html", context, status=422 if form.errors else 200
    )


def show_member(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: an account and what can be done with it. POST: do it."""
    row = members.get_member(viewer, request.GET.get("name", ""))
    form = RoleForm(request.POST if request.POST.get("act") == "role" else None, initial={"role": row.role})
    if request.method == "POST":
        try:
            answer = _apply_action(request, viewer, row.name, form)
        except BenchnightError as error:
            if error.kind != "conflict":
                raise
            form_handling.add_error_to_form(form, error) if form.is_bound else messages.warning(
                request, error.detail
            )
        else:
            if answer is not None:
                return answer
    context = {"row": row, "form": form, "is_self": row.name == viewer.name}
    faulty = bool(form.is_bound and form.errors) or request.method == "POST"
    return rendering.render_page(request, "steward/account.html", context, status=422 if faulty else 200)


def _apply_action(request: HttpRequest, viewer: Viewer, name: str, form: RoleForm) -> HttpResponse | None:
    act = request.POST.get("act", "")
    if act == "link":
        return _render_link(request, name, membership.reissue_sign_in_link(by=viewer, name=name))
    if act == "join":
        return _join_persons(request, viewer, name)
    if act == "role":
        if not form.is_valid():
            return None
        membership.change_member_role(by=viewer, name=name, role=form.cleaned_data["role"])
    elif act in ("give_kit", "take_kit"):
        membership.set_kit_keeper(by=viewer, name=name, keeps_kit=act == "give_kit")
    else:
        writes = {
            "suspend": membership.suspend_member,
            "unsuspend": membership.unsuspend_member,
            "revoke": membership.revoke_sign_ins,
            "factors": second_factors.remove_all_factors,
        }
        if act not in writes:
            raise BenchnightError("account.unknown_act", "Choose one of the buttons.")
        writes[act](by=viewer, name=name)
    messages.success(request, ACTION_MESSAGES[act])
    return HttpResponseRedirect(f"{reverse('pages:steward_account')}?{urlencode({'name': name})}")


def _join_persons(request: HttpRequest, viewer: Viewer, name: str) -> HttpResponse:
    """Say that an account and a guest, or another account, are one person."""
    try:
        persons.join_by_name(by=viewer, first=name, second=request.POST.get("other", ""))
    except BenchnightError as error:
        if error.kind == "forbidden":
            raise
        messages.warning(request, error.detail)
    else:
        messages.success(request, "They count as one person from the next release on.")
    return HttpResponseRedirect(f"{reverse('pages:steward_account')}?{urlencode({'name': name})}")


def _render_link(request: HttpRequest, name: str, secret: str) -> HttpResponse:
    """Return the only time that the link is shown: a page that no cache keeps and no reload brings back."""
    link = settings.BENCHNIGHT_SITE.rstrip("/") + reverse("pages:sign_in_link", args=[secret])
    context = {"name": name, "link": link, "hours": LINK_HOURS, "query": urlencode({"name": name})}
    return rendering.render_page(request, "steward/link.html", context)


def show_audit_log(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the audit log, filtered by the address."""
    form = LogForm(request.GET)
    page = None
    if form.is_valid():
        page = audit.list_audit_rows(viewer, form.wanted, cursor=request.GET.get("cursor"), limit=PAGE_SIZE)
    following = request.GET.copy()
    if page is not None and page.next_cursor:
        following["cursor"] = page.next_cursor
    context = {
        "form": form,
        "lines": [
            (row, presenters.format_log_detail(row.detail), describe_line(row.action, row.actor))
            for row in page.results
        ]
        if page
        else [],
        "next_page": f"?{following.urlencode()}" if page is not None and page.next_cursor else "",
    }
    return rendering.render_page(request, "steward/log.html", context, status=400 if form.errors else 200)
