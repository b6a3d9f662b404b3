"""Lists: `{"results", "next"}`, 50 a page, at most 200; the cursor is opaque and made by `queries`."""

from __future__ import annotations

from rest_framework import serializers
from rest_framework.request import Request

from api.strict import StrictSerializer

PAGE = 50
MOST = 200


class PageQuery(StrictSerializer):
    """The query words of every list that has pages."""

    limit = serializers.IntegerField(
        min_value=1, max_value=MOST, default=PAGE, help_text=f"Rows on a page, at most {MOST}."
    )
    cursor = serializers.CharField(
        required=False, max_length=256, help_text="Taken from `next` of the page before; opaque."
    )


def next_address(request: Request, cursor: str | None) -> str | None:
    """The absolute address of the next page: this one, with the new cursor."""
    if cursor is None:
        return None
    words = request.query_params.copy()
    words["cursor"] = cursor
    return request.build_absolute_uri(f"{request.path}?{words.urlencode()}")


def first_address(request: Request) -> str:
    """The absolute address of the first page: this one, without its cursor."""
    words = request.query_params.copy()
    words.pop("cursor", None)
    return request.build_absolute_uri(f"{request.path}?{words.urlencode()}" if words else request.path)
