"""Numbered releases of the evidence."""

from __future__ import annotations

from rest_framework.request import Request
from rest_framework.response import Response

from api import examples, replies
from api.door import Door
from api.operations import TEXT, listed, operation
from api.paging import PageQuery
from api.renderers import TABLE
from api.serializers.releases import Release as ReleaseShown
from measurements.queries import releases


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
        return replies.rows(request, ReleaseShown, page)


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
        return Response(ReleaseShown(releases.one(number)).data)
