"""The evidence of the current release as a whole: a row per design, band and kind."""

from __future__ import annotations

from collections.abc import Iterator

from django.http import HttpResponseBase, HttpResponseRedirect
from django.utils.crypto import salted_hmac
from rest_framework.request import Request

from api.http import replies
from api.http.paging import DEFAULT_LIMIT
from api.http.renderers import TABLE_RENDERERS
from api.http.replies import build_absolute_address
from api.http.views import ResourceView
from api.schema import examples
from api.schema.operations import TEXT_SCHEMA, describe_operation, make_list_serializer
from api.serializers.evidence import EvidenceRecord, EvidenceRecordsQuery
from measurements.selectors.designs import evidence_records
from measurements.selectors.evidence import evidence
from measurements.selectors.releases import release_files

MEDIA_TYPES = {"csv": "text/csv", "ndjson": "application/x-ndjson"}


class EvidenceView(ResourceView):
    renderer_classes = TABLE_RENDERERS
    words = EvidenceRecordsQuery

    @describe_operation(
        "evidence",
        "evidence",
        "Evidence of the current release",
        "A row per design, band and kind that its reader may see, with the recipe. Members and the public "
        "have the same columns. No row is of a single device. CSV and NDJSON hold all rows at once.",
        shows=make_list_serializer(EvidenceRecord, name="Evidence"),
        media={"text/csv": TEXT_SCHEMA, "application/x-ndjson": TEXT_SCHEMA},
        words=EvidenceRecordsQuery,
        example=examples.make_list(examples.EVIDENCE_ROW),
        also={302: None},
        refuses=(404,),
    )
    def get(self, request: Request) -> HttpResponseBase:
        form = request.accepted_renderer.format
        if "pool" in self.asked:
            return _lead_to_pool(request)
        if form != "json":
            reply = self._whole(form)
            reply["ETag"] = self._tag(form)
            return reply
        narrowed = {name: self.asked.get(name) for name in ("design", "kind", "cursor")}
        page = evidence_records.list_evidence_records(
            self.viewer, limit=self.asked.get("limit", DEFAULT_LIMIT), **narrowed
        )
        return replies.render_rows(request, EvidenceRecord, page)

    def _tag(self, form: str) -> str:
        """Build the tag before the first row: of what the rows are made of, under a key, so that it tells
        nothing.
        """
        made_of = (
            *evidence.get_evidence_state(self.viewer),
            form,
            self.asked.get("design", ""),
            self.asked.get("kind", ""),
        )
        digest = salted_hmac("api.evidence", "\n".join(map(str, made_of)), algorithm="sha256")
        return f'"{digest.hexdigest()[:32]}"'

    def _whole(self, form: str) -> HttpResponseBase:
        """Send all rows. They are a file of the release already, and are made only until that is there."""
        name = f"evidence.{form}"
        if "design" not in self.asked and "kind" not in self.asked:
            made = release_files.stream_newest_file(self.viewer, name)
            if made is not None:
                return replies.stream_pieces(made, MEDIA_TYPES[form], name)
        return replies.stream_lines(self._lines(form), MEDIA_TYPES[form], name)

    def _lines(self, form: str) -> Iterator[str]:
        narrowed = {name: self.asked.get(name) for name in ("design", "kind")}
        rows = evidence_records.stream_evidence_records(self.viewer, **narrowed)
        if form == "csv":
            return replies.format_csv_lines(rows, replies.list_columns(EvidenceRecord()))
        return replies.format_ndjson_lines(rows)


def _lead_to_pool(request: Request) -> HttpResponseBase:
    """Lead to the evidence of many groups, with the other query words."""
    words = request.GET.copy()
    del words["pool"]
    where = build_absolute_address(request, "pooled_evidence")
    return HttpResponseRedirect(f"{where}?{words.urlencode()}" if words else where)
