"""The last touches to a reply: gzip, a strong entity tag, 304, a digest, and what caches may do.

The tag is of the bytes before gzip, and ends in `:gzip` for those after it, because a strong tag stands
for one sequence of bytes. A row's version (see `entity_tags`) stays its first part, so that If-Match knows it
again.
"""

from __future__ import annotations

import gzip
import re
from collections.abc import Iterable
from hashlib import sha256

from django.http import HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.utils.cache import patch_vary_headers
from django.utils.text import compress_sequence
from rest_framework.request import Request

from api import content_digest, entity_tags

LEAST_BYTES = 512  # below this gzip saves no packet
LEVEL = 6
VARIES_BY = ("Accept", "Accept-Encoding", "Authorization", "Cookie")
TEXTS = re.compile(
    r"^(text/|image/svg\+xml|application/(json|x-ndjson|problem\+json|vnd\.oai|vnd\.vega))", re.ASCII
)
_ACCEPTED = re.compile(
    r"^\s*(?P<coding>[\w*-]+)\s*(?:;\s*q\s*=\s*(?P<weight>[01](?:\.\d{0,3})?)\s*)?$", re.ASCII
)


def finish(
    request: Request,
    response: HttpResponseBase,
    *,
    is_private: bool,
    may_shrink: bool,
    may_be_304: bool = True,
) -> HttpResponseBase:
    """The reply with its tag, coding and digest, or 304 where the client has this one already.

    is_private: what it shows belongs to somebody: no cache may keep it. may_shrink: gzip is allowed: never
    for the site's own sign-in, since who makes a browser ask could measure what it reads (BREACH), while
    nobody can make a browser send a token. may_be_304: False where `unless_known` is asked later.
    """
    patch_vary_headers(response, VARIES_BY)
    known = request.method in ("GET", "HEAD") and response.status_code == 200
    if not response.has_header("Cache-Control"):
        response["Cache-Control"] = "private, no-cache" if known and not is_private else "private, no-store"
    if known or response.has_header("ETag"):
        _tag(response)
    if may_shrink and _is_long_text(response) and accepts_gzip(request.headers.get("Accept-Encoding", "")):
        _shrink(response)
    if known and may_be_304:
        response = unless_known(request, response)
    if isinstance(response, HttpResponse) and response.content and response.status_code < 300:
        response.headers.setdefault("Content-Digest", content_digest.field(response.content))
    return response


def unless_known(request: Request | HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
    """The reply, or 304 where the client has it already."""
    is_known = matches(request.headers.get("If-None-Match"), response.get("ETag"))
    return _not_modified(response) if is_known else response


def accepts_gzip(header: str) -> bool:
    """Whether Accept-Encoding takes gzip: named with a weight above 0, or else by `*`."""
    weights = {}
    for part in header.split(","):
        if found := _ACCEPTED.match(part):
            weights[found["coding"].lower()] = float(found["weight"] or 1)
    return weights.get("gzip", weights.get("*", 0.0)) > 0


def matches(if_none_match: str | None, tag: str | None) -> bool:
    """Whether If-None-Match names the tag (weak comparison, RFC 9110 section 13.1.2)."""
    if if_none_match is None or tag is None:
        return False
    if if_none_match.strip() == "*":
        return True
    return any(part.strip().removeprefix("W/") == tag for part in if_none_match.split(","))


def _tag(response: HttpResponseBase) -> None:
    """Completes the tag that the view gave, or makes one of the content; a stream without one has none."""
    given = response.get("ETag")
    if not isinstance(response, HttpResponse):
        return
    digest = sha256(response.content).hexdigest()
    if given is None:
        response["ETag"] = f'"{digest[:32]}"'
    elif entity_tags.is_of_version(given):
        response["ETag"] = entity_tags.with_part(given, digest[:16])


def _is_long_text(response: HttpResponseBase) -> bool:
    """What gzip helps; a stored file goes out as it is, with the digest of its bytes."""
    return (
        not response.has_header("Content-Digest")
        and TEXTS.match(response.get("Content-Type", "")) is not None
        and (not isinstance(response, HttpResponse) or len(response.content) >= LEAST_BYTES)
    )


def _shrink(response: HttpResponseBase) -> None:
    if isinstance(response, StreamingHttpResponse):
        response.streaming_content = _compressed(response.streaming_content)
    elif isinstance(response, HttpResponse):
        # no time and no name in its head: the same content is the same bytes
        response.content = gzip.compress(response.content, LEVEL, mtime=0)
    response["Content-Encoding"] = "gzip"
    if response.has_header("ETag"):
        response["ETag"] = entity_tags.with_part(response["ETag"], "gzip")


def _compressed(parts: Iterable[bytes]) -> Iterable[bytes]:
    return compress_sequence(parts)


def _not_modified(response: HttpResponseBase) -> HttpResponse:
    """304 with the headers that a 200 would have carried, and no content."""
    kept = ("ETag", "Vary", "Cache-Control", "Link", "RateLimit", "RateLimit-Policy")
    unchanged = HttpResponse(status=304, headers={name: response[name] for name in kept if name in response})
    del unchanged["Content-Type"]
    return unchanged
