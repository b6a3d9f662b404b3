"""The evidence of the current release as a whole: rows to members, aggregates to the public."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from django.http import HttpResponseBase
from django.utils.crypto import salted_hmac
from drf_spectacular.utils import PolymorphicProxySerializer
from rest_framework.request import Request

from api.http import replies
from api.http.renderers import TABLE_RENDERERS
from api.http.views import ResourceView
from api.schema import examples
from api.schema.operations import TEXT_SCHEMA, describe_operation, make_list_serializer
from api.serializers.evidence import BandEvidence, EvidenceAggregate, EvidenceRow, EvidenceRowsQuery
from measurements.disclosure.viewers import ANONYMOUS
from measurements.selectors.designs import designs
from measurements.selectors.designs.rows import DesignRow
from measurements.selectors.evidence import evidence
from measurements.selectors.paging import MAX_LIMIT, Page
from measurements.selectors.releases import release_files

# What the public sees of the evidence as a whole: one rounded object per band of each design.

PUBLIC_COLUMNS = ("design", "title", *replies.list_columns(BandEvidence()))


def list_public_evidence(*, design: str | None, cursor: str | None, limit: int) -> Page[dict[str, Any]]:
    """Return a page of designs, by title. Raises BenchnightError `design.not_found`."""
    if design is not None:
        return Page((_format_design(designs.get_design(ANONYMOUS, design)),), None)
    page = designs.list_designs(ANONYMOUS, order="title", cursor=cursor, limit=limit)
    return Page(tuple(_format_design(row) for row in page.results), page.next_cursor)


def iterate_public_evidence(*, design: str | None) -> Iterator[dict[str, Any]]:
    """Return all designs, page by page. Raises before the first row, as `listing`."""
    return _iterate_pages(list_public_evidence(design=design, cursor=None, limit=MAX_LIMIT))


def flatten_bands(aggregates: Iterable[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """Yield a row per design and band, for a table."""
    for each in aggregates:
        for band in each["bands"]:
            yield {"design": each["design"], "title": each["title"], **band}


def _iterate_pages(page: Page[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    yield from page.results
    while page.next_cursor is not None:
        page = list_public_evidence(design=None, cursor=page.next_cursor, limit=MAX_LIMIT)
        yield from page.results


def _format_design(design: DesignRow) -> dict[str, Any]:
    return {"design": design.key, "title": design.title, "bands": list(design.evidence)}


MEDIA_TYPES = {"csv": "text/csv", "ndjson": "application/x-ndjson"}

EVIDENCE_SCHEMA = PolymorphicProxySerializer(
    component_name="EvidenceShown",
    serializers=[EvidenceRow, EvidenceAggregate],
    resource_type_field_name=None,
    many=True,
)


class EvidenceView(ResourceView):
    renderer_classes = TABLE_RENDERERS
    words = EvidenceRowsQuery

    @describe_operation(
        "evidence",
        "evidence",
        "Evidence of the current release",
        "Members see identity-free rows, one per device and band. The public sees aggregates only: a row per "
        "design, its bands rounded as in `designs/{id}/evidence/`. CSV and NDJSON hold all rows at once.",
        shows=make_list_serializer(EVIDENCE_SCHEMA, name="Evidence"),
        media={"text/csv": TEXT_SCHEMA, "application/x-ndjson": TEXT_SCHEMA},
        words=EvidenceRowsQuery,
        example=examples.make_list(examples.EVIDENCE_ROW),
        refuses=(404,),
    )
    def get(self, request: Request) -> HttpResponseBase:
        if self.viewer.signed_in and "design" in self.asked:
            designs.get_design(self.viewer, self.asked["design"])  # an unknown one is no empty list
        form = request.accepted_renderer.format
        if form != "json":
            reply = self._whole(form)
            reply["ETag"] = self._tag(form)
            return reply
        narrowed = {name: self.asked.get(name) for name in ("design", "cursor")}
        if not self.viewer.signed_in:
            page = list_public_evidence(limit=self.asked["limit"], **narrowed)
            return replies.render_rows(request, EvidenceAggregate, page)
        page = evidence.list_evidence_items(self.viewer, limit=self.asked["limit"], **narrowed)
        return replies.render_rows(request, EvidenceRow, page)

    def _tag(self, form: str) -> str:
        """Return known before the first row: of what the rows are made of, under a key, so that it tells
        nothing.
        """
        made_of = (*evidence.get_evidence_state(self.viewer), form, self.asked.get("design", ""))
        digest = salted_hmac("api.evidence", "\n".join(map(str, made_of)), algorithm="sha256")
        return f'"{digest.hexdigest()[:32]}"'

    def _whole(self, form: str) -> HttpResponseBase:
        """Return all rows of the release are a file of it already; they are made only until that has been
        made.
        """
        made, name = None, f"evidence.{form}"
        if self.viewer.signed_in and "design" not in self.asked:
            made = release_files.stream_newest_file(self.viewer, name)
        if made is not None:
            return replies.stream_pieces(made, MEDIA_TYPES[form], name)
        return replies.stream_lines(self._lines(form), MEDIA_TYPES[form], name)

    def _lines(self, form: str) -> Iterator[str]:
        design = self.asked.get("design")
        if not self.viewer.signed_in:
            rows = iterate_public_evidence(design=design)
            return _format_lines(form, flatten_bands(rows) if form == "csv" else rows, PUBLIC_COLUMNS)
        row = EvidenceRow()
        shown = (
            row.to_representation(item) for item in evidence.stream_evidence_items(self.viewer, design=design)
        )
        return _format_lines(form, shown, replies.list_columns(row))


def _format_lines(form: str, rows: Iterator[dict[str, Any]], columns: tuple[str, ...]) -> Iterator[str]:
    return replies.format_csv_lines(rows, columns) if form == "csv" else replies.format_ndjson_lines(rows)
