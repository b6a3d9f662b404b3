"""Tries of a password or a link: counted, refused where there are too many, noted where they fail."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import salted_hmac

from measurements.ingest import throttle, watch
from measurements.pages import door

MINUTE_S = 60
TOGETHER = 6  # times the limit of one account at one address: for all of an address, and of an account


def refused(request: HttpRequest, name: str = "") -> HttpResponse | None:
    """Counts one try under keyed hashes; a page that says how long to wait where there were too many.

    Counted for this account from this address; for the address, so that one password is not tried on every
    account; and for the account, so that many addresses do not try it together. name: empty for links.
    """
    address, limit = request.META.get("REMOTE_ADDR", ""), settings.BENCHNIGHT_SIGN_IN_PER_MINUTE
    wide = {f"|{address}"} | ({f"{name.casefold()}|"} if name else set())
    taken = [_taken(f"{name.casefold()}|{address}|both", limit)]
    taken += [_taken(who, limit * TOGETHER) for who in sorted(wide)]
    strictest = min(taken, key=lambda each: (each.allowed, each.remaining))
    return None if strictest.allowed else _too_often(request, strictest)


def failed(request: HttpRequest, way: str, reason: str, account: str = "") -> None:
    """Notes a try that let nobody in."""
    address = request.META.get("REMOTE_ADDR", "")
    watch.turned_away(way=way, reason=reason, account=account, address=address)


def _taken(who: str, limit: int) -> throttle.Allowance:
    key = salted_hmac("pages.sign_in", who, algorithm="sha256").hexdigest()[:32]
    return throttle.take(f"sign_in:{key}", limit=limit, window_s=MINUTE_S)


def _too_often(request: HttpRequest, allowance: throttle.Allowance) -> HttpResponse:
    detail = (
        f"Signing in can be tried {allowance.limit} times a minute. "
        f"Wait {allowance.reset_s} seconds and try again."
    )
    response = door.refusal(request, 429, detail, reason="limit.sign_in")
    response["Retry-After"] = str(allowance.reset_s)
    return response
