"""Opens and closes a browser session for an account that `services.accounts.accounts` has let in."""

from __future__ import annotations

from django.contrib.auth import login, logout
from django.contrib.auth.backends import ModelBackend
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme

from measurements.errors import BenchnightError
from measurements.services.accounts import second_factors, security_log

LINK = "link"
OPENED_BY_LINK = "by_link"  # when this session was opened by a link, in seconds since 1970
LINK_SESSION_S = 15 * 60
PROVEN_AT = "proven_at"  # when whoever sits here last showed the password, in seconds since 1970
PROOF_S = 15 * 60
BACKEND = "django.contrib.auth.backends.ModelBackend"


def open_session(request: HttpRequest, member_id: int, *, way: str, second_factor: bool = False) -> None:
    """Sign the account in, with a new session key. Raises BenchnightError for a suspended account.

    way: how it came in, for the log. second_factor: a second factor was shown, or nobody needs to show one.
    """
    user = ModelBackend().get_user(member_id)
    if user is None:
        raise BenchnightError(
            "account.suspended", "This account is suspended. Ask a steward.", kind="forbidden"
        )
    # Django keeps session and key where the same account signs in again: nothing of the old one goes on
    request.session.flush()
    login(request, user, backend=BACKEND)
    if way == LINK:
        note_link(request)
    else:
        note_proof(request)
    if second_factor:
        request.session[second_factors.PASSED] = True
    security_log.log_sign_in(
        way=way, account=user.get_username(), address=request.META.get("REMOTE_ADDR", "")
    )


def note_link(request: HttpRequest) -> None:
    """Note that a link opened this session just now."""
    request.session[OPENED_BY_LINK] = timezone.now().timestamp()


def was_opened_by_link(request: HttpRequest, *, within_s: int = LINK_SESSION_S) -> bool:
    """Say whether a link opened this session just now: who forgot a password has nothing else to show."""
    since = timezone.now().timestamp() - request.session.get(OPENED_BY_LINK, 0)
    return 0 <= since <= within_s


def note_proof(request: HttpRequest) -> None:
    """Note that the password or a second factor was shown just now."""
    request.session[PROVEN_AT] = timezone.now().timestamp()


def was_proven(request: HttpRequest) -> bool:
    """Tell whether the password or a second factor was shown in this session in the last 15 minutes."""
    return 0 <= timezone.now().timestamp() - request.session.get(PROVEN_AT, 0) <= PROOF_S


def close_session(request: HttpRequest) -> None:
    """Signs out and forgets the session."""
    logout(request)


def clear_browser_data(response: HttpResponse) -> HttpResponse:
    """Return the reply after signing out: over TLS the browser drops what it kept of this site, but the
    look.
    """
    response["Clear-Site-Data"] = '"cache", "storage"'
    return response


def get_safe_redirect(request: HttpRequest, wanted: str) -> str:
    """Return `wanted` when it is an address of this site, else the first page."""
    allowed = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return wanted if allowed else "/"
