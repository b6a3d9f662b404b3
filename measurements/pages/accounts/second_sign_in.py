"""The second step of signing in: after password or link, a code or a passkey opens the session.

Until then the session belongs to nobody: it remembers for ten minutes which account showed its first factor.
"""

from __future__ import annotations

import json
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.accounts import browser_sessions, factor_forms
from measurements.pages.layout import rendering, throttling
from measurements.selectors.accounts import viewers
from measurements.services.accounts import passkeys, second_factors

WAITING, WAITS_S = "second_step", 10 * 60
PASSKEY_STATE = "passkey_state"  # of the challenge that the page shows


def enter_account(
    request: HttpRequest, member_id: int, *, way: str, wanted: str, from_server: bool = False
) -> HttpResponse:
    """Open the session, or lead to the second step where the account has a second factor.

    from_server: a link that a command made; it needs no second step.
    """
    known = second_factors.has_second_factor(member_id)
    if not known or from_server:
        browser_sessions.open_session(request, member_id, way=way, second_factor=known)
        return HttpResponseRedirect(wanted)
    request.session.flush()
    waiting = {"member": member_id, "way": way, "since": timezone.now().timestamp(), "next": wanted}
    request.session[WAITING] = waiting
    return HttpResponseRedirect(reverse("pages:sign_in_second"))


def show_second_step(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: a field for a code, a button for a passkey. POST: check it, open the session and go on."""
    waiting = _get_waiting(request)
    who = viewer if viewer.signed_in else viewers.find_viewer_by_id(waiting.get("member"))
    if who is None or not second_factors.has_second_factor(who.member_id):
        return HttpResponseRedirect(reverse("pages:sign_in"))
    form: forms.Form = factor_forms.SecondStepForm()
    if request.method == "POST":
        by_passkey = bool(request.POST.get(factor_forms.PASSKEY))
        form = factor_forms.SecondStepForm(request.POST, asks_code=not by_passkey)
        if too_often := verify_factor(request, who, form):
            return too_often
        if form.is_valid():
            return _continue_signing_in(request, who, waiting)
    context = {"form": form, **build_factor_context(request, who.member_id)}
    return rendering.render_page(
        request, "accounts/second_step.html", context, status=422 if form.errors else 200
    )


def _get_waiting(request: HttpRequest) -> dict[str, Any]:
    """Get which account showed its first factor in the last ten minutes; empty where none did."""
    waiting = request.session.get(WAITING) or {}
    age_s = timezone.now().timestamp() - waiting.get("since", 0)
    return waiting if 0 <= age_s <= WAITS_S else {}


def _continue_signing_in(request: HttpRequest, who: Viewer, waiting: dict[str, Any]) -> HttpResponse:
    way = f"{waiting.get('way', 'session')}+second"
    by_link = waiting.get("way") == browser_sessions.LINK
    wanted = browser_sessions.get_safe_redirect(request, waiting.get("next") or "/")
    browser_sessions.open_session(request, int(who.member_id or 0), way=way, second_factor=True)
    if by_link:
        browser_sessions.note_link(request)
    return HttpResponseRedirect(wanted)


def build_factor_context(request: HttpRequest, member_id: int | None) -> dict[str, Any]:
    """Collect what a page needs to ask for a second factor; the session keeps a passkey's challenge."""
    known = second_factors.has_second_factor(member_id)
    context: dict[str, Any] = {"has_factor": known, "passkey_options": ""}
    if known and passkeys.are_passkeys_possible() and second_factors.has_passkey(member_id):
        options, request.session[PASSKEY_STATE] = passkeys.begin_check(member_id=int(member_id or 0))
        context["passkey_options"] = json.dumps(options)
    return context


def verify_factor(request: HttpRequest, who: Viewer, form: forms.Form) -> HttpResponse | None:
    """Check the code or passkey that was sent, the fault beside its field; answers a page where too often."""
    if too_often := throttling.limit_sign_in_attempts(request, who.name):
        return too_often
    if not form.is_valid():
        return None
    reply, member_id = request.POST.get(factor_forms.PASSKEY, ""), int(who.member_id or 0)
    try:
        if reply:
            state = request.session.pop(PASSKEY_STATE, None)
            passkeys.check_passkey(member_id=member_id, state=state, reply=reply)
        else:
            code = request.POST.get(factor_forms.CODE, "")[: factor_forms.MOST_CODE]
            second_factors.check_code(by=who, code=code)
    except BenchnightError as error:
        throttling.note_failed_sign_in(request, "second", error.code, who.name)
        if error.kind == "too_many":
            raise
        field = factor_forms.CODE if factor_forms.CODE in form.fields else None
        form.add_error(field, error.detail)
    return None
