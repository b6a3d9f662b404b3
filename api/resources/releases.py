"""Numbered releases of the evidence."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import replies
from api.http.paging import PageQuery
from api.http.renderers import TABLE_RENDERERS, Raw
from api.http.replies import build_absolute_address
from api.http.views import ResourceView
from api.schema import examples
from api.schema.operations import BINARY_SCHEMA, TEXT_SCHEMA, describe_operation, make_list_serializer
from api.serializers.evidence import Release as ReleaseShown
from measurements.selectors.paging import Page
from measurements.selectors.releases import release_files, releases
from measurements.selectors.releases.release_files import ReleaseFileRow
from measurements.selectors.releases.releases import ReleaseRow


class ReleasesView(ResourceView):
    renderer_classes = TABLE_RENDERERS
    words = PageQuery

    @describe_operation(
        "releases",
        "evidence",
        "Releases",
        "Every release, the newest first: date, thresholds, counts and the SHA-256 of its content.",
        shows=make_list_serializer(ReleaseShown, name="Releases"),
        media={"text/csv": TEXT_SCHEMA, "application/x-ndjson": TEXT_SCHEMA},
        words=PageQuery,
        example=examples.make_list(examples.RELEASE),
    )
    def get(self, request: Request) -> Response:
        page = releases.list_releases(self.asked.get("cursor"), self.asked["limit"], self.viewer)
        files = release_files.list_files_of_releases(self.viewer, [row.number for row in page.results])
        shown = tuple(add_file_addresses(request, row, files[row.number]) for row in page.results)
        return replies.render_rows(request, ReleaseShown, Page(shown, page.next_cursor))


class ReleaseView(ResourceView):
    @describe_operation(
        "release",
        "evidence",
        "A release",
        "A release by its number, with the files that its reader may have. A release never changes.",
        shows=ReleaseShown,
        example=examples.RELEASE,
        refuses=(404,),
    )
    def get(self, request: Request, number: int) -> Response:
        row = releases.get_release(number, self.viewer)
        files = release_files.list_files_of_releases(self.viewer, [number])[number]
        return Response(ReleaseShown.represent(add_file_addresses(request, row, files)))


class ReleaseFileView(ResourceView):
    renderer_classes = (Raw,)

    @describe_operation(
        "release_file",
        "evidence",
        "A file of a release",
        "Made with the release and never changed: bytes as they are, with their SHA-256 in Content-Digest "
        "and as ETag. Files of members need a sign-in. `manifest.json` lists what its reader may have, also "
        "one file per design, `design-<id>.csv`: its rows to members, its aggregates to the public.",
        shows=None,
        media={"application/octet-stream": BINARY_SCHEMA},
        refuses=(403, 404),
    )
    def get(self, request: Request, number: int, name: str) -> HttpResponseBase:
        row, pieces = release_files.stream_file(self.viewer, number, name)
        return replies.stream_attachment(pieces, row.size, row.name, row.sha256)


def add_file_addresses(
    request: Request, row: ReleaseRow, files: tuple[ReleaseFileRow, ...]
) -> dict[str, Any]:
    """Return a release and the addresses of its files."""
    listed = [
        {**asdict(file), "address": build_absolute_address(request, "release_file", row.number, file.name)}
        for file in files
    ]
    return {**asdict(row), "files": listed}
