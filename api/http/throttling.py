"""How often one client may ask: counted in the database by one atomic statement, announced on every reply.

An anonymous client is known by its network (`network_limits`, which the pages count with too); a signed-in
one by its token or its account.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.conf import settings
from django.http import HttpResponseBase
from rest_framework.request import Request

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.services.operations import network_limits, use_counts
from measurements.services.operations.use_counts import Allowance

WINDOW_S = 60
HOUR_S = 3600
ANALYSE = "analyse"
COMPUTING = network_limits.COMPUTING


@dataclass(frozen=True)
class CountedRequest:
    """One request counted: under which policy, and what is left of it."""

    policy: str
    allowance: Allowance
    window_s: int = WINDOW_S


def count_request(request: Request, scope: str | None = None) -> CountedRequest:
    """Count this request against the limit of its client.

    scope: `analyse` counts anonymous computations apart, under their own lower limit.
    """
    if request.user.is_authenticated:
        allowance = use_counts.count_use(
            f"api:token:{identify_account(request)}",
            limit=settings.BENCHNIGHT_TOKEN_PER_MINUTE,
            window_s=WINDOW_S,
        )
        return CountedRequest("token", allowance)
    if scope == ANALYSE:
        allowance = network_limits.count_visit(
            COMPUTING, _get_address(request), limit=settings.BENCHNIGHT_ANALYSE_PER_MINUTE
        )
        return CountedRequest("analyse", allowance)
    return _count_visitor(request)


def _count_visitor(request: Request) -> CountedRequest:
    """Count a request that carries no sign-in."""
    limit = settings.BENCHNIGHT_ANONYMOUS_PER_MINUTE
    allowance = network_limits.count_visit("api:anonymous", _get_address(request), limit=limit)
    return CountedRequest("anonymous", allowance)


def count_upload(viewer: Viewer) -> CountedRequest:
    """Count a test that a member sends in; the site's upload page counts under the same key."""
    limit = settings.BENCHNIGHT_UPLOADS_PER_HOUR
    return CountedRequest(
        "uploads", use_counts.count_use(f"uploads:{viewer.member_id}", limit=limit, window_s=HOUR_S), HOUR_S
    )


@contextmanager
def count_new_upload(viewer: Viewer, check: Callable[[CountedRequest], None]) -> Iterator[None]:
    """Count a new test while it is worked on; give a refused one back. check: refuses beyond."""
    check(count_upload(viewer))
    try:
        yield
    except BenchnightError:
        use_counts.give_back_use(f"uploads:{viewer.member_id}", window_s=HOUR_S)
        raise


def identify_account(request: Request) -> str:
    """Name the key that a signed-in client counts under; no token can be read from it."""
    if request.auth is not None:
        return f"token:{request.auth.digest[:32]}"
    return f"account:{request.user.pk}"


def _get_address(request: Request) -> str:
    return str(request.META.get("REMOTE_ADDR", ""))


def announce_limit(response: HttpResponseBase, counted: CountedRequest) -> None:
    """Set the RateLimit fields of the IETF draft (httpapi-ratelimit-headers); Retry-After on a 429."""
    for name, text in format_limit_headers(counted).items():
        response[name] = text
    if response.status_code == 429 and "Retry-After" not in response:
        response["Retry-After"] = str(counted.allowance.reset_s)


def format_limit_headers(counted: CountedRequest) -> dict[str, str]:
    """Format the RateLimit fields alone."""
    allowance = counted.allowance
    return {
        "RateLimit-Policy": f'"{counted.policy}";q={allowance.limit};w={counted.window_s}',
        "RateLimit": f'"{counted.policy}";r={allowance.remaining};t={allowance.reset_s}',
    }


def describe_limit(counted: CountedRequest) -> str:
    """Say which limit was met and how to stay within it."""
    allowance = counted.allowance
    many = "uploads an hour" if counted.window_s == HOUR_S else f"requests a minute ({counted.policy})"
    return (
        f"The limit of {allowance.limit} {many} is used up. "
        f"Wait {allowance.reset_s} s, and watch the RateLimit header of each reply."
    )
