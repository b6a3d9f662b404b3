"""Numbered releases of the evidence."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from django.http import HttpResponseBase, HttpResponseRedirect
from django.urls import reverse
from django.utils.feedgenerator import Atom1Feed
from drf_spectacular.utils import OpenApiParameter
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import replies
from api.http.paging import PageQuery
from api.http.renderers import TABLE_RENDERERS, Atom, StoredFile
from api.http.replies import build_absolute_address
from api.http.views import ResourceView
from api.schema import examples
from api.schema.operations import BINARY_SCHEMA, TEXT_SCHEMA, describe_operation, make_list_serializer
from api.serializers.evidence import Release as ReleaseShown
from measurements.disclosure.viewers import ANONYMOUS
from measurements.errors import BenchnightError
from measurements.selectors.paging import Page
from measurements.selectors.reference import reference
from measurements.selectors.releases import release_files, releases
from measurements.selectors.releases.release_files import ReleaseFileRow
from measurements.selectors.releases.releases import ReleaseRow

FILE_MEDIA = {
    "text/csv": BINARY_SCHEMA,
    "application/x-ndjson": BINARY_SCHEMA,
    "application/json": BINARY_SCHEMA,
    "text/plain": BINARY_SCHEMA,
}

RANGE_PARAMETERS = tuple(
    OpenApiParameter(name, str, OpenApiParameter.HEADER, description=told)
    for name, told in (
        ("Range", "One part of the file, such as `bytes=0-1023`."),
        (
            "If-Range",
            "The ETag that earlier parts came with; under another one the whole file comes.",
        ),
    )
)


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
    def get(self, request: Request) -> HttpResponseBase:
        def fetch(cursor: str | None, limit: int) -> Page[dict[str, Any]]:
            page = releases.list_releases(cursor, limit, self.viewer)
            files = release_files.list_files_of_releases(self.viewer, [row.number for row in page.results])
            shown = tuple(add_file_addresses(request, row, files[row.number]) for row in page.results)
            return Page(shown, page.next_cursor, page.count)

        return replies.render_list(request, ReleaseShown, self.asked, fetch)


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
    renderer_classes = (StoredFile,)

    @describe_operation(
        "release_file",
        "evidence",
        "A file of a release",
        "Made with the release and never changed: bytes as they are, with their SHA-256 in Content-Digest "
        "and as ETag. `Range` with `If-Range` gives a part (206). Files of members need a "
        "sign-in. `datapackage.json` says for tools what the tables hold, `CITATION.txt` how to cite them. "
        "`manifest.json` lists what its reader may have, also one file per design, "
        "`design-<id>.csv`: its rows to members, its aggregates to the public.",
        shows=None,
        also={206: None},
        media=FILE_MEDIA,
        refuses=(403, 404, 416),
        parameters=RANGE_PARAMETERS,
    )
    def get(self, request: Request, number: int, name: str) -> HttpResponseBase:
        row, pieces = release_files.stream_file(self.viewer, number, name)
        return replies.stream_attachment(request, pieces, row.size, row.name, row.sha256, row.media_type)


NEWEST_RELEASES = 20


class ReleaseFeedView(ResourceView):
    is_shared = True
    renderer_classes = (Atom,)

    @describe_operation(
        "release_feed",
        "evidence",
        "News of releases",
        f"The newest {NEWEST_RELEASES} releases as Atom (RFC 4287), the same for everybody.",
        shows=None,
        media={"application/atom+xml": TEXT_SCHEMA},
    )
    def get(self, request: Request) -> Response:
        rows = releases.list_releases(None, NEWEST_RELEASES, ANONYMOUS).results
        return Response(build_release_feed(request, rows))


def build_release_feed(request: Request, rows: Sequence[ReleaseRow]) -> str:
    """Write the feed; an entry's address and time never change, because a release never does."""
    here = build_absolute_address(request, "release_feed")
    feed = Atom1Feed(
        title=f"{reference.get_group_name()}: releases",
        link=build_absolute_address(request, "releases"),
        feed_url=here,
        description="",
        feed_guid=here,
    )
    for row in rows:
        where = build_absolute_address(request, "release", row.number)
        feed.add_item(
            title=f"Release {row.number}",
            link=where,
            description=f"Evidence of {row.counts.get('designs', 0)} designs that everybody may read.",
            unique_id=where,
            updateddate=row.made_at,
        )
    return str(feed.writeString("utf-8"))


class LatestReleaseView(ResourceView):
    @describe_operation(
        "latest_release",
        "evidence",
        "The newest release",
        "Leads to the newest release by its number, so that an address can be kept that never goes stale.",
        shows=None,
        status=302,
        refuses=(404,),
    )
    def get(self, request: Request) -> HttpResponseBase:
        return HttpResponseRedirect(reverse("api:release", args=[find_newest_number()]))


class LatestReleaseFileView(ResourceView):
    renderer_classes = (StoredFile,)

    @describe_operation(
        "latest_release_file",
        "evidence",
        "A file of the newest release",
        "Leads to this file of the newest release.",
        shows=None,
        status=302,
        refuses=(404,),
    )
    def get(self, request: Request, name: str) -> HttpResponseBase:
        return HttpResponseRedirect(reverse("api:release_file", args=[find_newest_number(), name]))


def find_newest_number() -> int:
    """Find the number of the newest release. Raises BenchnightError `release.not_found`."""
    newest = releases.get_current_release()
    if newest is None:
        raise BenchnightError("release.not_found", "There is no release yet.", kind="not_found")
    return newest.number


def add_file_addresses(
    request: Request, row: ReleaseRow, files: tuple[ReleaseFileRow, ...]
) -> dict[str, Any]:
    """Return a release and the addresses of its files."""
    listed = [
        {**asdict(file), "address": build_absolute_address(request, "release_file", row.number, file.name)}
        for file in files
    ]
    return {**asdict(row), "files": listed}
