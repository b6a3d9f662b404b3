"""Strong entity tags from a row's version, and the If-Match that a change must carry."""

from __future__ import annotations

import re

from django.http import HttpResponse
from rest_framework.request import Request

from api.problems import problem

_STRONG = re.compile(r'^"[\x21\x23-\x7e]*"$')


def tag(key: str, version: int) -> str:
    """The entity tag of one version of a row; strong, because a weak one never matches."""
    return f'"{key}.{version}"'


def refusal(request: Request, current: str) -> HttpResponse | None:
    """428 without If-Match, 412 where it names no tag that is `current`; None where it fits."""
    given = request.headers.get("If-Match")
    if given is None:
        return problem(
            428, "change.if_match_missing", "Read it first, and send its ETag back in an If-Match header."
        )
    tags = [part.strip() for part in given.split(",")]
    if given.strip() == "*" or any(_STRONG.match(part) and part == current for part in tags):
        return None
    return stale()


def stale() -> HttpResponse:
    """412: what the change was based on is no longer what is stored."""
    return problem(
        412, "change.stale", "Somebody changed it meanwhile. Read it again and repeat your change."
    )
