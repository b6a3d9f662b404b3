"""Before an account gets a new way in, its owner shows once more who is asking.

With the present password, or by a link that opened the session just now. An account without a password has
links alone: one of the last hour is enough there.
"""

from __future__ import annotations

from django import forms
from django.http import HttpRequest, HttpResponse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.accounts import browser_sessions
from measurements.pages.layout import form_handling, throttling
from measurements.services.accounts import accounts

PASSWORD, LINK = "password", "link"
LINK_PROOF_S = 60 * 60


def get_required_proof(request: HttpRequest, viewer: Viewer) -> str:
    """What has to be shown: PASSWORD, LINK (a new one), or nothing."""
    if accounts.has_password(viewer):
        return "" if browser_sessions.was_opened_by_link(request) else PASSWORD
    return "" if browser_sessions.was_opened_by_link(request, within_s=LINK_PROOF_S) else LINK


def verify_proof(request: HttpRequest, viewer: Viewer, form: forms.Form, asked: str) -> HttpResponse | None:
    """Checks what a sent form shows, the fault beside its field; answers a page where it is tried too often.

    asked: what `wanted` said. Raises BenchnightError `account.new_link` where only a new link would do.
    """
    if asked == LINK:
        raise BenchnightError(
            "account.new_link",
            "For this, sign in again by a new one-time link; a steward makes one.",
            kind="forbidden",
        )
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
    return None
