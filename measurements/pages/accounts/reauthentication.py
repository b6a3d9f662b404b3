"""Before an account gets a new way in, its owner shows once more who is asking.

With the present password, or by a link that opened the session just now. An account without a password has
links alone: one of the last hour is enough there. On the page that asks, a second factor shows as much. For
acts that one does in a row, such as inviting, a proof counts for a quarter of an hour.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.accounts import browser_sessions, factor_forms, second_sign_in
from measurements.pages.accounts.forms import ProofForm
from measurements.pages.layout import form_handling, rendering, throttling
from measurements.services.accounts import accounts, second_factors

PASSWORD, LINK = "password", "link"
LINK_PROOF_S = 60 * 60
PROOFS = ("present", factor_forms.CODE, factor_forms.PASSKEY)  # fields that show who is asking
NOT_CARRIED = frozenset({"csrfmiddlewaretoken", *PROOFS})


def get_required_proof(request: HttpRequest, viewer: Viewer, *, recent_counts: bool = False) -> str:
    """Name the proof that is needed: PASSWORD, LINK (a new one), or nothing.

    recent_counts: the password shown in the last 15 minutes, at signing in too, is enough.
    """
    if recent_counts and browser_sessions.was_proven(request):
        return ""
    if accounts.has_password(viewer):
        return "" if browser_sessions.was_opened_by_link(request) else PASSWORD
    return "" if browser_sessions.was_opened_by_link(request, within_s=LINK_PROOF_S) else LINK


def verify_proof(request: HttpRequest, viewer: Viewer, form: forms.Form, asked: str) -> HttpResponse | None:
    """Check what a sent form shows, the fault beside its field; answers a page where it is tried too often.

    asked: what `wanted` said. Raises BenchnightError `account.new_link` where only a new link would do.
    """
    if asked == LINK:
        raise _build_link_refusal()
    if asked != PASSWORD:
        return None
    # guessing it here is no cheaper than at the door
    if too_often := throttling.limit_sign_in_attempts(request, viewer.name):
        return too_often
    if form.is_valid():
        try:
            accounts.check_current_password(by=viewer, password=form.cleaned_data["present"])
        except BenchnightError as error:
            throttling.note_failed_sign_in(request, "password", error.code, viewer.name)
            form_handling.add_error_to_form(form, error)
        else:
            browser_sessions.note_proof(request)
    return None


def check_recent_link(request: HttpRequest, viewer: Viewer) -> None:
    """Check an account without a password. Raises BenchnightError `account.new_link` after an hour."""
    if get_required_proof(request, viewer) == LINK:
        raise _build_link_refusal()


def _build_link_refusal() -> BenchnightError:
    return BenchnightError(
        "account.new_link",
        "For this, sign in again by a new one-time link; a steward makes one.",
        kind="forbidden",
    )


def require_fresh_proof(
    view: Callable[..., HttpResponse], *, acts: frozenset[str] | None = None
) -> Callable[..., HttpResponse]:
    """Let a POST of the view through after a fresh proof only; what was sent waits in the page that asks.

    acts: values of the field `act` that this is for; None: every POST. It raises BenchnightError
    `account.new_link` where only a new link would do.
    """

    @wraps(view)
    def proven(request: HttpRequest, viewer: Viewer, **kwargs: Any) -> HttpResponse:
        meant = request.method == "POST" and (acts is None or request.POST.get("act") in acts)
        asked = get_required_proof(request, viewer, recent_counts=True) if meant else ""
        if not asked:
            return view(request, viewer, **kwargs)
        if asked == LINK and not second_factors.has_second_factor(viewer.member_id):
            raise _build_link_refusal()
        by_factor = any(request.POST.get(name) for name in PROOFS[1:])
        given = by_factor or (asked == PASSWORD and "present" in request.POST)
        form = ProofForm(request.POST if given else None, asks_present=asked == PASSWORD and not by_factor)
        if given and (too_often := _verify_shown(request, viewer, form, by_factor=by_factor)):
            return too_often
        if given and form.is_valid():
            return view(request, viewer, **kwargs)
        carried = [
            (name, value)
            for name, values in request.POST.lists()
            for value in values
            if name not in NOT_CARRIED
        ]
        context = {
            "form": ProofForm(asks_present=asked == PASSWORD) if by_factor and not form.errors else form,
            "carried": carried,
            "asks_present": asked == PASSWORD,
            **second_sign_in.build_factor_context(request, viewer.member_id),
        }
        return rendering.render_page(request, "accounts/proof.html", context, status=422 if given else 403)

    return proven


def _verify_shown(
    request: HttpRequest, viewer: Viewer, form: forms.Form, *, by_factor: bool
) -> HttpResponse | None:
    """Check a sent password, code or passkey; answers a page where it is tried too often."""
    if not by_factor:
        return verify_proof(request, viewer, form, PASSWORD)
    if too_often := second_sign_in.verify_factor(request, viewer, form):
        return too_often
    if form.is_valid():
        browser_sessions.note_proof(request)
    return None
