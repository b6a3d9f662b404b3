"""Replies of views: a list in the requested form, a file, a picture."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from django.http import HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.urls import reverse
from django.utils.http import content_disposition_header
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import digests, paging
from api.http.fields import ReplySerializer
from measurements.charts import rendering
from measurements.disclosure import table_text
from measurements.disclosure.evidence_records import find_value
from measurements.disclosure.table_text import FORMULA_STARTS as FORMULA_STARTS
from measurements.disclosure.table_text import format_ndjson_lines as format_ndjson_lines
from measurements.errors import BenchnightError
from measurements.selectors.paging import Page

# Absolute addresses of this door.
#
# Not the framework's own function: that one copies the `?format=` of the request into every address.


def build_absolute_address(request: Request, name: str, *keys: str) -> str:
    """Build the address of the view `name`, as the client reaches this server."""
    address: str = request.build_absolute_uri(reverse(f"api:{name}", args=keys))
    return address


# Rows as CSV and as NDJSON.
#
# The columns of a CSV come from the output serializer, so an empty list has the same header as a full
# one; fields of a nested object are columns `outer.inner`, a list is JSON text in its cell.


def list_columns(serializer: serializers.Serializer) -> tuple[str, ...]:
    """Return the column names of a serializer's rows."""
    names: list[str] = []
    for name, field in serializer.fields.items():
        if isinstance(field, serializers.Serializer):
            names += [f"{name}.{inner}" for inner in list_columns(field)]
        else:
            names.append(name)
    return tuple(names)


def format_csv(rows: Iterable[Mapping[str, Any]], names: Sequence[str]) -> str:
    """Return the whole table."""
    return "".join(format_csv_lines(rows, names))


def format_csv_lines(rows: Iterable[Mapping[str, Any]], names: Sequence[str]) -> Iterator[str]:
    """Return the table line by line, its header first; a name `outer.inner` reaches into a nested object."""
    return table_text.format_csv_table(([find_value(row, name) for name in names] for row in rows), names)


# a picture opened on its own may style itself and nothing else
PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"

PIECE_BYTES = 64 * 1024

BYTES_MEDIA_TYPE = "application/octet-stream"


def render_rows(
    request: Request, serializer: type[ReplySerializer], page: Page[Any] | tuple[Any, ...]
) -> Response:
    """Return a list as JSON, CSV or NDJSON; Link headers lead to the first and the next page."""
    results, cursor = (page.results, page.next_cursor) if isinstance(page, Page) else (page, None)
    shown = [serializer.represent(row) for row in results]
    following = paging.build_next_address(request, cursor)
    form = request.accepted_renderer.format
    if form == "csv":
        response = Response(format_csv(shown, list_columns(serializer())))
    elif form == "ndjson":
        response = Response("".join(format_ndjson_lines(shown)))
    else:
        response = Response({"results": shown, "next": following})
    if isinstance(page, Page):
        paging.add_link(response, paging.build_first_address(request), "first")
    if following:
        paging.add_link(response, following, "next")
    return response


def stream_lines(lines: Iterable[str], media_type: str, name: str) -> HttpResponseBase:
    """Return a table of any length, sent while it is read."""
    return stream_pieces(_join_lines(lines), media_type, name)


def stream_pieces(pieces: Iterable[bytes], media_type: str, name: str) -> HttpResponseBase:
    """Return the same of a table that is there in pieces already."""
    return StreamingHttpResponse(
        pieces,
        content_type=f"{media_type}; charset=utf-8",
        headers={"Content-Disposition": content_disposition_header(False, name)},
    )


def render_attachment(data: bytes, name: str, sha256_hex: str) -> HttpResponse:
    """Return stored bytes, unchanged, with their digest (RFC 9530); a browser saves them and never shows
    them.
    """
    return HttpResponse(
        data, content_type=BYTES_MEDIA_TYPE, headers=_list_attachment_headers(name, sha256_hex)
    )


def stream_attachment(
    pieces: Iterable[bytes], size: int, name: str, sha256_hex: str
) -> StreamingHttpResponse:
    """Return the same, sent while it is read."""
    headers = {**_list_attachment_headers(name, sha256_hex), "Content-Length": str(size)}
    return StreamingHttpResponse(pieces, content_type=BYTES_MEDIA_TYPE, headers=headers)


def _list_attachment_headers(name: str, sha256_hex: str) -> dict[str, str]:
    return {
        "Content-Disposition": content_disposition_header(True, name) or "attachment",
        "Content-Digest": digests.format_digest_field(bytes.fromhex(sha256_hex)),
        "Content-Security-Policy": "default-src 'none'; sandbox",
        "ETag": f'"{sha256_hex}"',
    }


def _join_lines(lines: Iterable[str]) -> Iterator[bytes]:
    """Yield some lines at a time: a packet per line would be slower than the database."""
    piece = bytearray()
    for line in lines:
        piece += line.encode()
        if len(piece) >= PIECE_BYTES:
            yield bytes(piece)
            piece.clear()
    if piece:
        yield bytes(piece)


def render_text(content: str, media_type: str, name: str) -> HttpResponse:
    """Return a text file made for this reply."""
    return HttpResponse(
        content,
        content_type=f"{media_type}; charset=utf-8",
        headers={"Content-Disposition": content_disposition_header(True, name)},
    )


# A chart in the requested form: its Vega-Lite specification, SVG or PNG.


def render_chart(request: Request, specification: dict[str, Any] | None) -> HttpResponseBase:
    """Return the chart. Raises BenchnightError `chart.nothing_to_draw` where there is none."""
    if specification is None:
        raise BenchnightError(
            "chart.nothing_to_draw",
            "There is no curve to draw: readings are never drawn as one.",
            kind="not_found",
        )
    form = request.accepted_renderer.format
    if form in ("json", "vega"):
        return Response(specification)
    content: str | bytes = (
        rendering.render_svg(specification) if form == "svg" else rendering.render_png(specification)
    )
    return HttpResponse(
        content,
        content_type=request.accepted_renderer.media_type,
        headers={"Content-Security-Policy": PICTURE_POLICY},
    )
