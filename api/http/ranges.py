"""One part of a stored file (RFC 9110, 14): `Range: bytes=...` with `If-Range`, for tools that read pieces.

Several ranges in one header, and units other than bytes, get the whole file, as the RFC allows.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from django.http import HttpResponseBase, StreamingHttpResponse
from rest_framework.request import Request

from api.http.problems import make_problem

_BYTES = re.compile(r"^\s*bytes=\s*(?P<first>\d{0,18})\s*-\s*(?P<last>\d{0,18})\s*$", re.ASCII | re.I)


def find_range(request: Request, etag: str, size: int) -> tuple[int, int] | None:
    """Find the first and last byte that the header names; None: all. Raises ValueError without any."""
    found = _BYTES.match(request.headers.get("Range", ""))
    if found is None or (not found["first"] and not found["last"]):
        return None
    if request.headers.get("If-Range", etag).strip() != etag:
        return None  # another version was read before; a date never fits, because files carry none
    if not found["first"]:
        length = min(int(found["last"]), size)
        first, last = size - length, size - 1
    else:
        first = int(found["first"])
        last = min(int(found["last"]), size - 1) if found["last"] else size - 1
        if found["last"] and int(found["last"]) < first:
            return None
    if first >= size or last < first:
        raise ValueError("no such bytes")
    return first, last


def cut_response(request: Request, response: StreamingHttpResponse, size: int) -> HttpResponseBase:
    """Answer with the part asked for: 206, 416 where there is no such part, else the whole file."""
    response["Accept-Ranges"] = "bytes"
    try:
        asked = find_range(request, response["ETag"], size)
    except ValueError:
        return make_problem(
            416,
            "request.range",
            f"The file has {size} bytes; ask for some of them.",
            headers={"Content-Range": f"bytes */{size}"},
        )
    if asked is None:
        return response
    first, last = asked
    response.status_code = 206
    response.streaming_content = cut_pieces(response.streaming_content, first, last)
    response["Content-Range"] = f"bytes {first}-{last}/{size}"
    response["Content-Length"] = str(last - first + 1)
    # the digest of the whole file (RFC 9530): what a part's reader compares in the end
    response["Repr-Digest"] = response["Content-Digest"]
    del response["Content-Digest"]
    return response


def cut_pieces(pieces: Iterable[bytes], first: int, last: int) -> Iterator[bytes]:
    """Yield bytes `first` to `last` of what the pieces hold together; reads no piece beyond them."""
    at = 0
    for piece in pieces:
        part = piece[max(0, first - at) : last + 1 - at]
        if part:
            yield part
        at += len(piece)
        if at > last:
            return
