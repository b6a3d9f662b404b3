"""The evidence of the current release as a whole: rows to members, aggregates to the public."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.http import HttpResponseBase
from django.utils.crypto import salted_hmac
from drf_spectacular.utils import PolymorphicProxySerializer
from rest_framework.request import Request

from api import examples, public_evidence, replies, tables
from api.door import Door
from api.operations import TEXT, listed, operation
from api.renderers import TABLE
from api.serializers.evidence import EvidenceAggregate, EvidenceRow, EvidenceRowsQuery
from measurements.queries import designs, evidence, evidence_state, release_files

MEDIA_TYPES = {"csv": "text/csv", "ndjson": "application/x-ndjson"}
EITHER = PolymorphicProxySerializer(
    component_name="EvidenceShown",
    serializers=[EvidenceRow, EvidenceAggregate],
    resource_type_field_name=None,
    many=True,
)


class Evidence(Door):
    renderer_classes = TABLE
    words = EvidenceRowsQuery

    @operation(
        "evidence",
        "evidence",
        "Evidence of the current release",
        "Members see identity-free rows, one per device and band. The public sees aggregates only: a row per "
        "design, its bands rounded as in `designs/{id}/evidence/`. CSV and NDJSON hold all rows at once.",
        shows=listed(EITHER, name="Evidence"),
        media={"text/csv": TEXT, "application/x-ndjson": TEXT},
        words=EvidenceRowsQuery,
        example=examples.listed(examples.EVIDENCE_ROW),
        refuses=(404,),
    )
    def get(self, request: Request) -> HttpResponseBase:
        if self.viewer.signed_in and "design" in self.asked:
            designs.one(self.viewer, self.asked["design"])  # an unknown one is no empty list
        form = request.accepted_renderer.format
        if form != "json":
            reply = self._whole(form)
            reply["ETag"] = self._tag(form)
            return reply
        narrowed = {name: self.asked.get(name) for name in ("design", "cursor")}
        if not self.viewer.signed_in:
            page = public_evidence.listing(limit=self.asked["limit"], **narrowed)
            return replies.rows(request, EvidenceAggregate, page)
        page = evidence.listing(self.viewer, limit=self.asked["limit"], **narrowed)
        return replies.rows(request, EvidenceRow, page)

    def _tag(self, form: str) -> str:
        """Known before the first row: of what the rows are made of, under a key, so that it tells nothing."""
        made_of = (*evidence_state.of(self.viewer), form, self.asked.get("design", ""))
        digest = salted_hmac("api.evidence", "\n".join(map(str, made_of)), algorithm="sha256")
        return f'"{digest.hexdigest()[:32]}"'

    def _whole(self, form: str) -> HttpResponseBase:
        """All rows of the release are a file of it already; they are made only until that has been made."""
        made, name = None, f"evidence.{form}"
        if self.viewer.signed_in and "design" not in self.asked:
            made = release_files.newest(self.viewer, name)
        if made is not None:
            return replies.stream_pieces(made, MEDIA_TYPES[form], name)
        return replies.stream(self._lines(form), MEDIA_TYPES[form], name)

    def _lines(self, form: str) -> Iterator[str]:
        design = self.asked.get("design")
        if not self.viewer.signed_in:
            rows = public_evidence.rows(design=design)
            return _written(
                form, public_evidence.flat(rows) if form == "csv" else rows, public_evidence.COLUMNS
            )
        row = EvidenceRow()
        shown = (row.to_representation(item) for item in evidence.stream(self.viewer, design=design))
        return _written(form, shown, tables.columns(row))


def _written(form: str, rows: Iterator[dict[str, Any]], columns: tuple[str, ...]) -> Iterator[str]:
    return tables.csv_lines(rows, columns) if form == "csv" else tables.ndjson_lines(rows)
