"""What views answer with: a list in the form that was asked for, a file, a picture."""

from __future__ import annotations

import base64
from collections.abc import Iterable
from typing import Any

from django.http import HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.utils.http import content_disposition_header
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api import paging, tables
from measurements.queries.rows import Page

# a picture opened on its own may style itself and nothing else
PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"


def rows(
    request: Request, serializer: type[serializers.Serializer], page: Page[Any] | tuple[Any, ...]
) -> Response:
    """A list as JSON, CSV or NDJSON; the two tables name the next page in a Link header."""
    results, cursor = (page.results, page.next_cursor) if isinstance(page, Page) else (page, None)
    shown = serializer(results, many=True).data
    following = paging.next_address(request, cursor)
    headers = {"Link": f'<{following}>; rel="next"'} if following else {}
    form = request.accepted_renderer.format
    if form == "csv":
        return Response(tables.csv_text(shown, tables.columns(serializer())), headers=headers)
    if form == "ndjson":
        return Response("".join(tables.ndjson_lines(shown)), headers=headers)
    return Response({"results": shown, "next": following}, headers=headers)


def stream(lines: Iterable[str], media_type: str, name: str) -> HttpResponseBase:
    """A table of any length, sent while it is read."""
    return StreamingHttpResponse(
        (line.encode() for line in lines),
        content_type=f"{media_type}; charset=utf-8",
        headers={"Content-Disposition": content_disposition_header(False, name)},
    )


def attachment(data: bytes, name: str, sha256_hex: str) -> HttpResponse:
    """Stored bytes, unchanged, with their digest (RFC 9530); a browser saves them and never shows them."""
    digest = base64.b64encode(bytes.fromhex(sha256_hex)).decode("ascii")
    return HttpResponse(
        data,
        content_type="application/octet-stream",
        headers={
            "Content-Disposition": content_disposition_header(True, name),
            "Content-Digest": f"sha-256=:{digest}:",
            "Content-Security-Policy": "default-src 'none'; sandbox",
        },
    )


def text(content: str, media_type: str, name: str) -> HttpResponse:
    """A text file made for this reply."""
    return HttpResponse(
        content,
        content_type=f"{media_type}; charset=utf-8",
        headers={"Content-Disposition": content_disposition_header(True, name)},
    )
