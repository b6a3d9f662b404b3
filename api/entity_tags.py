"""Strong entity tags from a row's version, and the If-Match that a change must carry.

A row's tag is `"<key>.<version>:<content>"`: the version decides about changes, the digest of what is
shown about 304. If-Match needs the first part only, so a tag fits whatever coding it was read in.
"""

from __future__ import annotations

import re

from django.http import HttpResponse
from rest_framework.request import Request

from api.problems import problem

_STRONG = re.compile(r'^"[\x21\x23-\x7e]*"$')
_OF_VERSION = re.compile(r'^"[0-9A-Za-z_-]+\.[0-9]+"$')


def tag(key: str, version: int) -> str:
    """The entity tag of one version of a row; strong, because a weak one never matches."""
    return f'"{key}.{version}"'


def with_part(tag: str, part: str) -> str:
    """The tag of one form of what `tag` stands for."""
    return f'{tag[:-1]}:{part}"'


def is_of_version(tag: str) -> bool:
    """Whether a tag is one that `tag` made."""
    return _OF_VERSION.match(tag) is not None


def refusal(request: Request, current: str) -> HttpResponse | None:
    """428 without If-Match, 412 where it names no tag of the version `current`; None where it fits."""
    given = request.headers.get("If-Match")
    if given is None:
        return problem(
            428, "change.if_match_missing", "Read it first, and send its ETag back in an If-Match header."
        )
    if given.strip() == "*" or any(_version(part.strip()) == current for part in given.split(",")):
        return None
    return stale()


def stale() -> HttpResponse:
    """412: what the change was based on is no longer what is stored."""
    return problem(
        412, "change.stale", "Somebody changed it meanwhile. Read it again and repeat your change."
    )


def _version(part: str) -> str | None:
    """A strong tag without what stands behind its version; None for anything else."""
    if not _STRONG.match(part):
        return None
    return f'{part.split(":")[0].rstrip(chr(34))}"'
