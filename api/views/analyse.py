"""Computes from sweeps without storing anything."""

from __future__ import annotations

from rest_framework.request import Request
from rest_framework.response import Response

from api import examples, throttling, uploads
from api.door import Door
from api.operations import operation
from api.parsers import Multipart
from api.serializers.result import Result
from api.serializers.tests import AnalyseForm
from measurements.ingest import analysis
from measurements.ingest.uploads import parse_settings


class Analyse(Door):
    parser_classes = (Multipart,)
    scope = throttling.ANALYSE

    @operation(
        "analyse",
        "analysis",
        "Compute a test",
        "Reads the files, computes the figures of the test and forgets both. Without signing in this is "
        "limited to 20 a minute.",
        shows=Result,
        takes={"multipart/form-data": AnalyseForm},
        example=examples.RESULT,
    )
    def post(self, request: Request) -> Response:
        settings = parse_settings(uploads.texts(request))
        files = uploads.files(request)
        analysed = analysis.of_uploads(uploads_by_role=files, settings=settings, by=self.viewer)
        return Response(analysed.analysis.result)
