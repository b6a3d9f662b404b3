"""How often somebody may have something computed or drawn on a page, or try to sign in.

Whoever is not signed in is counted by network, computing together with the API (`network_limits`).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import salted_hmac

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import rendering
from measurements.services.accounts import security_log
from measurements.services.operations import network_limits, use_counts

WINDOW_S = network_limits.MINUTE_S
DRAWING = "drawing"


def count_computation(request: HttpRequest, viewer: Viewer) -> None:
    """Count one computation. Raises BenchnightError `limit.computing` beyond the limit."""
    _count(request, viewer, network_limits.COMPUTING, settings.BENCHNIGHT_ANALYSE_PER_MINUTE)


def limit_drawing(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """Count pages and pictures of the view where they are made anew; a kept one costs nothing.

    A form that is sent has a limit of its own. It raises BenchnightError `limit.drawing` beyond the limit.
    """

    @wraps(view)
    def counted(request: HttpRequest, viewer: Viewer, **kwargs: Any) -> HttpResponse:
        if request.method != "POST":
            _count(request, viewer, DRAWING, settings.BENCHNIGHT_DRAWINGS_PER_MINUTE)
        return view(request, viewer, **kwargs)

    return counted


def _count(request: HttpRequest, viewer: Viewer, scope: str, limit: int) -> None:
    if viewer.signed_in:
        allowance = use_counts.count_use(
            f"{scope}:account:{viewer.member_id}",
            limit=settings.BENCHNIGHT_TOKEN_PER_MINUTE,
            window_s=WINDOW_S,
        )
    else:
        allowance = network_limits.count_visit(scope, _get_address(request), limit=limit)
    if not allowance.allowed:
        made = "computed" if scope == network_limits.COMPUTING else "drawn"
        raise BenchnightError(
            f"limit.{scope}",
            f"This can be {made} {allowance.limit} times a minute. Wait {allowance.reset_s} seconds.",
            kind="too_many",
            wait_s=allowance.reset_s,
        )


def _get_address(request: HttpRequest) -> str:
    return str(request.META.get("REMOTE_ADDR", ""))


# Tries of a password or a link: counted, refused where there are too many, noted where they fail.

# times the limit of one account at one network. Of a network: forty people in a hall sign in by one address,
# half of them with a slip, in a minute. Of an account: many networks together try no password of it
NETWORK_FACTOR, ACCOUNT_FACTOR = 12, 6


def limit_sign_in_attempts(request: HttpRequest, name: str = "") -> HttpResponse | None:
    """Count one try under keyed hashes; answer a page that says how long to wait where there were too many.

    Counted for this account from this network; for the network, so that one password is not tried on every
    account; and for the account, so that many networks do not try it together. name: empty for links, which
    nobody guesses: those of a whole hall are pressed at once.
    """
    address, limit = _get_address(request), settings.BENCHNIGHT_SIGN_IN_PER_MINUTE
    limits = network_limits.build_limits("sign_in", address, limit * NETWORK_FACTOR)
    if name:
        who = name.casefold()
        limits |= network_limits.build_limits("sign_in", address, limit, who=who)
        hashed = salted_hmac("pages.sign_in", who, algorithm="sha256").hexdigest()[:32]
        limits[f"sign_in:{hashed}"] = limit * ACCOUNT_FACTOR
    strictest = use_counts.count_uses(limits, window_s=WINDOW_S)
    return None if strictest.allowed else _render_limit_reached(request, strictest)


def note_failed_sign_in(request: HttpRequest, way: str, reason: str, account: str = "") -> None:
    """Note a try that let nobody in."""
    address = _get_address(request)
    security_log.log_failed_sign_in(way=way, reason=reason, account=account, address=address)


def _render_limit_reached(request: HttpRequest, allowance: use_counts.Allowance) -> HttpResponse:
    detail = (
        f"Signing in can be tried {allowance.limit} times a minute. "
        f"Wait {allowance.reset_s} seconds and try again."
    )
    response = rendering.render_refusal(request, 429, detail, reason="limit.sign_in")
    response["Retry-After"] = str(allowance.reset_s)
    return response
