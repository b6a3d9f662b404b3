"""Numbered releases of the evidence."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api import examples, replies
from api.addresses import absolute
from api.door import Door
from api.operations import BINARY, TEXT, listed, operation
from api.paging import PageQuery
from api.renderers import TABLE, Raw
from api.serializers.releases import Release as ReleaseShown
from measurements.queries import release_files, releases
from measurements.queries.rows import Page, ReleaseFileRow, ReleaseRow


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
        files = release_files.of_releases(self.viewer, [row.number for row in page.results])
        shown = tuple(with_files(request, row, files[row.number]) for row in page.results)
        return replies.rows(request, ReleaseShown, Page(shown, page.next_cursor))


class Release(Door):
    @operation(
        "release",
        "evidence",
        "A release",
        "A release by its number, with the files that its reader may have. A release never changes.",
        shows=ReleaseShown,
        example=examples.RELEASE,
        refuses=(404,),
    )
    def get(self, request: Request, number: int) -> Response:
        row = releases.one(number)
        files = release_files.of_releases(self.viewer, [number])[number]
        return Response(ReleaseShown(with_files(request, row, files)).data)


class ReleaseFile(Door):
    renderer_classes = (Raw,)

    @operation(
        "release_file",
        "evidence",
        "A file of a release",
        "Made with the release and never changed: bytes as they are, with their SHA-256 in Content-Digest "
        "and as ETag. Files of members need a sign-in. `manifest.json` lists what its reader may have, also "
        "one file per design, `design-<id>.csv`: its rows to members, its aggregates to the public. "
        "Where evidence in a file was withdrawn, the file is not handed out any more.",
        shows=None,
        media={"application/octet-stream": BINARY},
        refuses=(403, 404),
    )
    def get(self, request: Request, number: int, name: str) -> HttpResponseBase:
        row, pieces = release_files.pieces(self.viewer, number, name)
        return replies.attachment_in_pieces(pieces, row.size, row.name, row.sha256)


def with_files(request: Request, row: ReleaseRow, files: tuple[ReleaseFileRow, ...]) -> dict[str, Any]:
    """A release and the addresses of its files."""
    listed = [
        {**asdict(file), "address": absolute(request, "release_file", row.number, file.name)}
        for file in files
    ]
    return {**asdict(row), "files": listed}
