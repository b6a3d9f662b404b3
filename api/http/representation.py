"""The last touches to a reply: gzip, a strong entity tag, a digest, what caches may do; and 304.

The tag is of the bytes before gzip, and ends in `:gzip` for those after it, because a strong tag stands
for one sequence of bytes. A row's version (see `entity_tags`) stays its first part, so that If-Match knows it
again.
"""

from __future__ import annotations

import gzip
import re
from collections.abc import Iterable
from hashlib import sha256

from django.http import HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.utils.cache import get_conditional_response, patch_vary_headers
from django.utils.text import compress_sequence
from rest_framework.request import Request

from api.http import digests
from api.http.problems import make_problem

# Strong entity tags from a row's version, and the If-Match that a change must carry.
#
# A row's tag is `"<key>.<version>:<content>"`: the version decides about changes, the digest of what is
# shown about 304. If-Match needs the first part only, so a tag fits whatever coding it was read in.

_STRONG = re.compile(r'^"[\x21\x23-\x7e]*"$')

_VERSION_ETAG = re.compile(r'^"[0-9A-Za-z_-]+\.[0-9]+"$')


def make_etag(key: str, version: int) -> str:
    """Return the entity tag of one version of a row; strong, because a weak one never matches."""
    return f'"{key}.{version}"'


def extend_etag(tag: str, part: str) -> str:
    """Return the tag of one form of the content with this `tag`."""
    return f'{tag[:-1]}:{part}"'


def is_version_etag(tag: str) -> bool:
    """Say whether a tag is one that `tag` made."""
    return _VERSION_ETAG.match(tag) is not None


def find_precondition_problem(request: Request, current: str) -> HttpResponse | None:
    """Return 428 without If-Match, 412 where it names no tag of the version `current`; None where it fits."""
    given = request.headers.get("If-Match")
    if given is None:
        return make_problem(
            428, "change.if_match_missing", "Read it first, and send its ETag back in an If-Match header."
        )
    if given.strip() == "*" or any(_strip_content_part(part.strip()) == current for part in given.split(",")):
        return None
    return make_stale_problem()


def make_stale_problem() -> HttpResponse:
    """Return 412: what the change was based on is no longer what is stored."""
    return make_problem(
        412, "change.stale", "Somebody changed it meanwhile. Read it again and repeat your change."
    )


def _strip_content_part(part: str) -> str | None:
    """Return a strong tag without what stands behind its version; None for anything else."""
    if not _STRONG.match(part):
        return None
    return f'{part.split(":")[0].rstrip(chr(34))}"'


MIN_GZIP_BYTES = 512  # below this gzip saves no packet

GZIP_LEVEL = 6

VARY_HEADERS = ("Accept", "Accept-Encoding", "Authorization", "Cookie")

COMPRESSIBLE = re.compile(
    r"^(text/|image/svg\+xml|application/(json|x-ndjson|problem\+json|vnd\.oai|vnd\.vega))", re.ASCII
)

_ACCEPTED = re.compile(
    r"^\s*(?P<coding>[\w*-]+)\s*(?:;\s*q\s*=\s*(?P<weight>[01](?:\.\d{0,3})?)\s*)?$", re.ASCII
)


def finish_response(
    request: Request,
    response: HttpResponseBase,
    *,
    is_private: bool,
    may_shrink: bool,
) -> HttpResponseBase:
    """Give the reply its tag, coding and digest.

    is_private: what it shows belongs to somebody: no cache may keep it. may_shrink: gzip is allowed: never
    for the site's own sign-in, since who makes a browser ask could measure what it reads (BREACH), while
    nobody can make a browser send a token.
    """
    patch_vary_headers(response, VARY_HEADERS)
    known = request.method in ("GET", "HEAD") and response.status_code == 200
    if not response.has_header("Cache-Control"):
        response["Cache-Control"] = "private, no-cache" if known and not is_private else "private, no-store"
    if known or response.has_header("ETag"):
        _set_etag(response)
    is_packed = response.has_header("Content-Encoding")  # it comes out of the cache
    if (
        may_shrink
        and not is_packed
        and _is_long_text(response)
        and accepts_gzip(request.headers.get("Accept-Encoding", ""))
    ):
        _compress(response)
    if isinstance(response, HttpResponse) and response.content and response.status_code < 300:
        response.headers.setdefault("Content-Digest", digests.compute_digest_field(response.content))
    return response


def apply_conditions(request: Request, response: HttpResponseBase) -> HttpResponseBase:
    """Turn the reply into 304 where If-None-Match names it.

    Django compares the tags. If-Match is a matter of changes here, so a read that carries one is left alone.
    """
    is_read = request.method in ("GET", "HEAD") and response.status_code == 200
    if not is_read or "If-None-Match" not in request.headers or "If-Match" in request.headers:
        return response
    links = response.get("Link")
    found: HttpResponseBase = get_conditional_response(request, etag=response.get("ETag"), response=response)
    if found.status_code == 304 and links is not None:
        found["Link"] = links
    return found


def accepts_gzip(header: str) -> bool:
    """Say whether Accept-Encoding takes gzip: named with a weight above 0, or else by `*`."""
    weights = {}
    for part in header.split(","):
        if found := _ACCEPTED.match(part):
            weights[found["coding"].lower()] = float(found["weight"] or 1)
    return weights.get("gzip", weights.get("*", 0.0)) > 0


def _set_etag(response: HttpResponseBase) -> None:
    """Complete the tag that the view gave, or make one of the content; a stream without one has none."""
    given = response.get("ETag")
    if not isinstance(response, HttpResponse):
        return
    digest = sha256(response.content).hexdigest()
    if given is None:
        response["ETag"] = f'"{digest[:32]}"'
    elif is_version_etag(given):
        response["ETag"] = extend_etag(given, digest[:16])


def _is_long_text(response: HttpResponseBase) -> bool:
    """Choose the content to compress. A stored file goes out as it is, with the digest of its bytes."""
    return (
        not response.has_header("Content-Digest")
        and not response.has_header("Content-Range")
        and COMPRESSIBLE.match(response.get("Content-Type", "")) is not None
        and (not isinstance(response, HttpResponse) or len(response.content) >= MIN_GZIP_BYTES)
    )


def _compress(response: HttpResponseBase) -> None:
    if isinstance(response, StreamingHttpResponse):
        response.streaming_content = _compress_parts(response.streaming_content)
    elif isinstance(response, HttpResponse):
        # no time and no name in its head: the same content is the same bytes
        response.content = gzip.compress(response.content, GZIP_LEVEL, mtime=0)
    response["Content-Encoding"] = "gzip"
    if response.has_header("ETag"):
        response["ETag"] = extend_etag(response["ETag"], "gzip")


def _compress_parts(parts: Iterable[bytes]) -> Iterable[bytes]:
    return compress_sequence(parts)
