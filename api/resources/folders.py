"""A member's own tests in bulk: a folder of sweeps in, a table of results out."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import replies, throttling
from api.http.parsers import Multipart
from api.http.renderers import TABLE_RENDERERS
from api.http.views import ResourceView
from api.resources import intakes
from api.schema import examples, night_examples
from api.schema.operations import TEXT_SCHEMA, describe_operation, make_list_serializer
from api.serializers.results import BandRecord
from api.serializers.tests import FolderForm, FolderReply, TestQuery
from measurements.selectors.paging import Page
from measurements.selectors.tests import band_results
from measurements.services.intakes import own_folders
from measurements.services.intakes.own_folders import SHARED_WORDS, FolderReceipt


class BandResultsView(ResourceView):
    renderer_classes = TABLE_RENDERERS
    members_only = frozenset({"GET", "HEAD"})
    words = TestQuery

    @describe_operation(
        "band_results",
        "tests",
        "Your results by band",
        "A row for each band of each own test, the last recorded first; figures have columns of their own, "
        "such as `rejection_db.worst`. `limit` counts tests.",
        shows=make_list_serializer(BandRecord, name="BandResults"),
        media={"text/csv": TEXT_SCHEMA, "application/x-ndjson": TEXT_SCHEMA},
        words=TestQuery,
        example=examples.make_list(examples.BAND_RECORD),
        members_only=True,
    )
    def get(self, request: Request) -> HttpResponseBase:
        def fetch(cursor: str | None, limit: int) -> Page[dict[str, Any]]:
            return band_results.list_band_results(
                self.viewer, device=self.asked.get("device"), cursor=cursor, limit=limit
            )

        return replies.render_list(request, BandRecord, self.asked, fetch)


class FoldersView(ResourceView):
    parser_classes = (Multipart,)
    members_only = frozenset({"POST"})

    @describe_operation(
        "record_folder",
        "tests",
        "Record a folder",
        "Many sweeps of your own registered devices at once: without a manifest each file is named after its "
        "device's tag. Each file ends as `stored`, `already_there`, `refused` with a reason, or `waiting`: "
        "send those again after `wait_s` seconds. Only new tests count against the hourly limit. Sending the "
        "whole folder again is harmless.",
        shows=FolderReply,
        takes={"multipart/form-data": FolderForm},
        example=night_examples.FOLDER,
        refuses=(403,),
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        sent = intakes.read_intake_form(request, SHARED_WORDS)
        files, manifest = sent.sweeps, sent.manifest
        if sent.archive is not None:
            files, manifest = own_folders.unpack_folder(sent.archive)
        receipt = own_folders.record_folder(
            by=self.viewer,
            files=files,
            shared=sent.words,
            manifest=manifest,
            count=lambda: throttling.count_new_upload(self.viewer, self._check_uploads),
        )
        return Response(FolderReply.represent(self._describe_receipt(receipt)))

    def _check_uploads(self, counted: throttling.CountedRequest) -> None:
        self.keep_within(counted, own_folders.LIMIT_CODE)

    def _describe_receipt(self, receipt: FolderReceipt) -> dict[str, object]:
        """Count the ends of all files; say after how many seconds those that wait are sent again."""
        states = [file.state for file in receipt.files]
        wait_s = None
        if own_folders.WAITING in states:
            wait_s = self.counted.allowance.reset_s if receipt.limit_met and self.counted else 0
        return {
            "total": len(states),
            **{state: states.count(state) for state in own_folders.STATES},
            "wait_s": wait_s,
            "files": [{**asdict(file), "reason": file.reason or None} for file in receipt.files],
        }
