"""Computes from sweeps without storing anything."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api import drawings, examples, throttling, uploads
from api.door import Door
from api.operations import BINARY, TEXT, operation
from api.parsers import Multipart
from api.renderers import Png, Svg, Vega
from api.serializers.result import Result
from api.serializers.tests import AnalyseForm
from measurements.charts import test_chart
from measurements.ingest import analysis
from measurements.ingest.analysis import Analysed
from measurements.ingest.uploads import parse_settings
from measurements.queries import reference


class Analyse(Door):
    parser_classes = (Multipart,)
    scope = throttling.ANALYSE
    forms_of_writes = (Svg, Png, Vega)

    @operation(
        "analyse",
        "analysis",
        "Compute a test",
        "Reads the files, computes the figures of the test and forgets both. Without signing in this is "
        "limited to 20 a minute. `?format=svg`, `png` or `vega` (or such an Accept header) answers with the "
        "chart of the test in place of its figures: drawn, or as a Vega-Lite specification.",
        shows=Result,
        media={"image/svg+xml": TEXT, "image/png": BINARY, Vega.media_type: {"type": "object"}},
        takes={"multipart/form-data": AnalyseForm},
        example=examples.RESULT,
        refuses=(404,),
    )
    def post(self, request: Request) -> HttpResponseBase:
        settings = parse_settings(uploads.texts(request))
        files = uploads.files(request)
        analysed = analysis.of_uploads(uploads_by_role=files, settings=settings, by=self.viewer)
        if request.accepted_renderer.format == "json":
            return Response(analysed.analysis.result)
        return drawings.reply(request, _drawn(analysed, settings.region))


def _drawn(analysed: Analysed, region: int | None) -> dict[str, Any] | None:
    """The chart of a test that is stored nowhere; None for readings."""
    result, traces = analysed.analysis.result, analysed.analysis.traces
    shown = SimpleNamespace(kind=result["kind"], result=result)
    return test_chart.build(shown, traces, reference.bands(region))
