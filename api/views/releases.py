"""Numbered releases of the evidence."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from api import examples, replies
from api.addresses import absolute
from api.door import Door
from api.operations import TEXT, listed, operation
from api.paging import PageQuery
from api.renderers import TABLE
from api.serializers.releases import Release as ReleaseShown
from measurements.queries import releases
from measurements.queries.rows import Page, ReleaseRow

FORMS = {"csv": "text/csv", "ndjson": "application/x-ndjson"}


class Releases(Door):
    renderer_classes = TABLE
    words = PageQuery

    @operation(
        "releases",
        "evidence",
        "Releases",
        "Every release, the newest first: date, thresholds, counts and the SHA-256 of its content.",
        shows=listed(ReleaseShown, name="Releases"),
        media={"text/csv": TEXT, "application/x-ndjson": TEXT},
        words=PageQuery,
        example=examples.listed(examples.RELEASE),
    )
    def get(self, request: Request) -> Response:
        page = releases.listing(self.asked.get("cursor"), self.asked["limit"])
        newest = releases.current()
        shown = tuple(with_files(request, row, newest) for row in page.results)
        return replies.rows(request, ReleaseShown, Page(shown, page.next_cursor))


class Release(Door):
    @operation(
        "release",
        "evidence",
        "A release",
        "A release by its number. A release never changes.",
        shows=ReleaseShown,
        example=examples.RELEASE,
        refuses=(404,),
    )
    def get(self, request: Request, number: int) -> Response:
        return Response(ReleaseShown(with_files(request, releases.one(number), releases.current())).data)


def with_files(request: Request, row: ReleaseRow, newest: ReleaseRow | None) -> dict[str, Any]:
    """A release and the addresses of its files; only the newest one's rows are handed out."""
    is_newest = newest is not None and newest.number == row.number
    files = [
        {
            "name": f"evidence.{form}",
            "media_type": media_type,
            "address": absolute(request, "evidence") + f"?format={form}",
        }
        for form, media_type in FORMS.items()
    ]
    return {**asdict(row), "files": files if is_newest else []}
