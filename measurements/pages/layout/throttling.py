"""How often somebody may have something computed on a page; the API counts under limits of the same size."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import salted_hmac

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import rendering
from measurements.services.accounts import security_log
from measurements.services.operations import use_counts

COMPUTING_WINDOW_S = 60


def count_computation(request: HttpRequest, viewer: Viewer) -> None:
    """Counts one computation. Nobody's address is stored: an anonymous reader is a keyed hash of it.

    Raises BenchnightError `limit.computing` beyond the limit.
    """
    if viewer.signed_in:
        who, limit = f"account:{viewer.member_id}", settings.BENCHNIGHT_TOKEN_PER_MINUTE
    else:
        address = request.META.get("REMOTE_ADDR", "")
        who = salted_hmac("pages.layout.throttling", address, algorithm="sha256").hexdigest()[:32]
        limit = settings.BENCHNIGHT_ANALYSE_PER_MINUTE
    allowance = use_counts.count_use(f"computing:{who}", limit=limit, window_s=COMPUTING_WINDOW_S)
    if not allowance.allowed:
        raise BenchnightError(
            "limit.computing",
            f"This can be computed {allowance.limit} times a minute. Wait {allowance.reset_s} seconds.",
            kind="too_many",
            wait_s=allowance.reset_s,
        )


# Tries of a password or a link: counted, refused where there are too many, noted where they fail.

SIGN_IN_WINDOW_S = 60

SHARED_LIMIT_FACTOR = (
    6  # times the limit of one account at one address: for all of an address, and of an account
)


def limit_sign_in_attempts(request: HttpRequest, name: str = "") -> HttpResponse | None:
    """Counts one try under keyed hashes; a page that says how long to wait where there were too many.

    Counted for this account from this address; for the address, so that one password is not tried on every
    account; and for the account, so that many addresses do not try it together. name: empty for links.
    """
    address, limit = request.META.get("REMOTE_ADDR", ""), settings.BENCHNIGHT_SIGN_IN_PER_MINUTE
    wide = {f"|{address}"} | ({f"{name.casefold()}|"} if name else set())
    taken = [_take_attempt(f"{name.casefold()}|{address}|both", limit)]
    taken += [_take_attempt(who, limit * SHARED_LIMIT_FACTOR) for who in sorted(wide)]
    strictest = min(taken, key=lambda each: (each.allowed, each.remaining))
    return None if strictest.allowed else _render_limit_reached(request, strictest)


def note_failed_sign_in(request: HttpRequest, way: str, reason: str, account: str = "") -> None:
    """Notes a try that let nobody in."""
    address = request.META.get("REMOTE_ADDR", "")
    security_log.log_failed_sign_in(way=way, reason=reason, account=account, address=address)


def _take_attempt(who: str, limit: int) -> use_counts.Allowance:
    key = salted_hmac("pages.sign_in", who, algorithm="sha256").hexdigest()[:32]
    return use_counts.count_use(f"sign_in:{key}", limit=limit, window_s=SIGN_IN_WINDOW_S)


def _render_limit_reached(request: HttpRequest, allowance: use_counts.Allowance) -> HttpResponse:
    detail = (
        f"Signing in can be tried {allowance.limit} times a minute. "
        f"Wait {allowance.reset_s} seconds and try again."
    )
    response = rendering.render_refusal(request, 429, detail, reason="limit.sign_in")
    response["Retry-After"] = str(allowance.reset_s)
    return response
