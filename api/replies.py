"""What views answer with: a list in the form that was asked for, a file, a picture."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from django.http import HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.utils.http import content_disposition_header
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api import content_digest, links, paging, tables
from measurements.queries.rows import Page

# a picture opened on its own may style itself and nothing else
PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
PIECE_BYTES = 64 * 1024
BYTES = "application/octet-stream"


def rows(
    request: Request, serializer: type[serializers.Serializer], page: Page[Any] | tuple[Any, ...]
) -> Response:
    """A list as JSON, CSV or NDJSON; Link headers lead to the first and the next page."""
    results, cursor = (page.results, page.next_cursor) if isinstance(page, Page) else (page, None)
    shown = serializer(results, many=True).data
    following = paging.next_address(request, cursor)
    form = request.accepted_renderer.format
    if form == "csv":
        response = Response(tables.csv_text(shown, tables.columns(serializer())))
    elif form == "ndjson":
        response = Response("".join(tables.ndjson_lines(shown)))
    else:
        response = Response({"results": shown, "next": following})
    if isinstance(page, Page):
        links.add(response, paging.first_address(request), "first")
    if following:
        links.add(response, following, "next")
    return response


def stream(lines: Iterable[str], media_type: str, name: str) -> HttpResponseBase:
    """A table of any length, sent while it is read."""
    return stream_pieces(_in_pieces(lines), media_type, name)


def stream_pieces(pieces: Iterable[bytes], media_type: str, name: str) -> HttpResponseBase:
    """The same of a table that is there in pieces already."""
    return StreamingHttpResponse(
        pieces,
        content_type=f"{media_type}; charset=utf-8",
        headers={"Content-Disposition": content_disposition_header(False, name)},
    )


def attachment(data: bytes, name: str, sha256_hex: str) -> HttpResponse:
    """Stored bytes, unchanged, with their digest (RFC 9530); a browser saves them and never shows them."""
    return HttpResponse(data, content_type=BYTES, headers=_of_stored(name, sha256_hex))


def attachment_in_pieces(
    pieces: Iterable[bytes], size: int, name: str, sha256_hex: str
) -> StreamingHttpResponse:
    """The same, sent while it is read."""
    headers = {**_of_stored(name, sha256_hex), "Content-Length": str(size)}
    return StreamingHttpResponse(pieces, content_type=BYTES, headers=headers)


def _of_stored(name: str, sha256_hex: str) -> dict[str, str]:
    return {
        "Content-Disposition": content_disposition_header(True, name) or "attachment",
        "Content-Digest": content_digest.field_of(bytes.fromhex(sha256_hex)),
        "Content-Security-Policy": "default-src 'none'; sandbox",
        "ETag": f'"{sha256_hex}"',
    }


def _in_pieces(lines: Iterable[str]) -> Iterator[bytes]:
    """Some lines at a time: a packet per line would be slower than the database."""
    piece = bytearray()
    for line in lines:
        piece += line.encode()
        if len(piece) >= PIECE_BYTES:
            yield bytes(piece)
            piece.clear()
    if piece:
        yield bytes(piece)


def text(content: str, media_type: str, name: str) -> HttpResponse:
    """A text file made for this reply."""
    return HttpResponse(
        content,
        content_type=f"{media_type}; charset=utf-8",
        headers={"Content-Disposition": content_disposition_header(True, name)},
    )
