"""Replies of views: a list in the requested form, a file, a picture."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any

from django.http import HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.urls import reverse
from django.utils.http import content_disposition_header
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import digests, paging, ranges
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


FetchPage = Callable[[str | None, int], Page[Any]]


def render_list(
    request: Request, serializer: type[ReplySerializer], asked: Mapping[str, Any], fetch: FetchPage
) -> HttpResponseBase:
    """Render a list: a page of it, or as CSV and NDJSON without `limit` and `cursor` all of it.

    fetch: reads the page at a cursor with so many rows. A list of one page has a tag and a digest; a longer
    one is sent while it is read.
    """
    form, cursor, limit = request.accepted_renderer.format, asked.get("cursor"), asked.get("limit")
    if form == "json" or cursor is not None or limit is not None:
        return render_rows(request, serializer, fetch(cursor, limit or paging.DEFAULT_LIMIT))
    first = fetch(None, paging.MAX_LIMIT)
    if first.next_cursor is None:
        return render_rows(request, serializer, first)
    rows = (serializer.represent(row) for page in _iterate_pages(first, fetch) for row in page.results)
    names = list_columns(serializer())
    lines = format_csv_lines(rows, names) if form == "csv" else format_ndjson_lines(rows)
    return stream_lines(lines, request.accepted_renderer.media_type, f"{_name_list(request)}.{form}")


def _iterate_pages(page: Page[Any], fetch: FetchPage) -> Iterator[Page[Any]]:
    yield page
    while page.next_cursor is not None:
        page = fetch(page.next_cursor, paging.MAX_LIMIT)
        yield page


def _name_list(request: Request) -> str:
    """Name the file of a list after the last word of its address."""
    return request.path.rstrip("/").rsplit("/", 1)[1]


def render_rows(
    request: Request, serializer: type[ReplySerializer], page: Page[Any] | tuple[Any, ...]
) -> Response:
    """Render rows as JSON, CSV or NDJSON; Link headers lead to the first and the next page."""
    results, cursor = (page.results, page.next_cursor) if isinstance(page, Page) else (page, None)
    shown = [serializer.represent(row) for row in results]
    following = paging.build_next_address(request, cursor)
    form = request.accepted_renderer.format
    if form == "csv":
        response = Response(format_csv(shown, list_columns(serializer())))
    elif form == "ndjson":
        response = Response("".join(format_ndjson_lines(shown)))
    else:
        response = Response({"results": shown, "next": following, "total": _count_rows(page)})
    if isinstance(page, Page):
        paging.add_link(response, paging.build_first_address(request), "first")
    if following:
        paging.add_link(response, following, "next")
    return response


def _count_rows(page: Page[Any] | tuple[Any, ...]) -> int | None:
    if isinstance(page, Page):
        return None if page.count is None else page.count()
    return len(page)


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
    request: Request, pieces: Iterable[bytes], size: int, name: str, sha256_hex: str, media_type: str
) -> HttpResponseBase:
    """Render the same, sent while it is read: whole, or the part that a Range header asks for."""
    headers = {**_list_attachment_headers(name, sha256_hex), "Content-Length": str(size)}
    whole = StreamingHttpResponse(pieces, content_type=f"{media_type}; charset=utf-8", headers=headers)
    return ranges.cut_response(request, whole, size)


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


def render_chart(
    request: Request, specification: dict[str, Any] | None, *, is_published: bool = False
) -> HttpResponseBase:
    """Render the chart. is_published: drawn of a release alone, so the cache keeps it for the next reader.

    Raises BenchnightError `chart.nothing_to_draw` where there is none.
    """
    if specification is None:
        raise BenchnightError(
            "chart.nothing_to_draw",
            "There is no curve to draw: readings are never drawn as one.",
            kind="not_found",
        )
    form = request.accepted_renderer.format
    if form in ("json", "vega"):
        return Response(specification)
    content: str | bytes
    if is_published:
        content = rendering.render_kept(specification, form)
    elif form == "svg":
        content = rendering.render_svg(specification, kept=False)
    else:
        content = rendering.render_png(specification)
    return HttpResponse(
        content,
        content_type=request.accepted_renderer.media_type,
        headers={"Content-Security-Policy": PICTURE_POLICY},
    )
