"""Lists: `{"results", "next", "total"}`, 50 a page, at most 200; `selectors` makes the opaque cursor.

As CSV or NDJSON without `limit` and `cursor` a list is whole.
"""

from __future__ import annotations

from django.http import HttpResponseBase
from rest_framework import serializers
from rest_framework.request import Request

from api.http.fields import StrictSerializer

# Link headers (RFC 8288).


def add_link(response: HttpResponseBase, address: str, relation: str) -> None:
    """One more link. address: absolute, or from the root."""
    link = f'<{address}>; rel="{relation}"'
    before = response.get("Link")
    response["Link"] = f"{before}, {link}" if before else link


DEFAULT_LIMIT = 50

MAX_LIMIT = 200


class PageQuery(StrictSerializer):
    """The query words of every list that has pages."""

    limit = serializers.IntegerField(
        required=False,
        min_value=1,
        max_value=MAX_LIMIT,
        help_text=f"Rows on a page, at most {MAX_LIMIT}. Without it JSON has {DEFAULT_LIMIT}; CSV and "
        "NDJSON are whole.",
    )
    cursor = serializers.CharField(
        required=False, max_length=256, help_text="Taken from `next` of the page before; opaque."
    )


def build_next_address(request: Request, cursor: str | None) -> str | None:
    """Return the absolute address of the next page: this one, with the new cursor."""
    if cursor is None:
        return None
    words = request.query_params.copy()
    words["cursor"] = cursor
    return request.build_absolute_uri(f"{request.path}?{words.urlencode()}")


def build_first_address(request: Request) -> str:
    """Return the absolute address of the first page: this one, without its cursor."""
    words = request.query_params.copy()
    words.pop("cursor", None)
    return request.build_absolute_uri(f"{request.path}?{words.urlencode()}" if words else request.path)
