"""Computes from sweeps without storing anything."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import parsers, replies, throttling
from api.http.parsers import Multipart
from api.http.renderers import Png, Svg, Vega
from api.http.views import ResourceView
from api.schema import examples
from api.schema.operations import BINARY_SCHEMA, TEXT_SCHEMA, describe_operation
from api.serializers.results import Result
from api.serializers.tests import AnalyseForm
from measurements.charts import test_chart
from measurements.selectors.reference import reference
from measurements.services.tests import analysis
from measurements.services.tests.analysis import AnalysedUploads
from measurements.services.uploads.uploads import parse_settings


class AnalyseView(ResourceView):
    parser_classes = (Multipart,)
    scope = throttling.ANALYSE
    forms_of_writes = (Svg, Png, Vega)

    @describe_operation(
        "analyse",
        "analysis",
        "Compute a test",
        "Reads the files, computes the figures of the test and forgets both. Without signing in this is "
        "limited to 20 a minute. `?format=svg`, `png` or `vega` (or such an Accept header) answers with the "
        "chart of the test in place of its figures: drawn, or as a Vega-Lite specification.",
        shows=Result,
        media={"image/svg+xml": TEXT_SCHEMA, "image/png": BINARY_SCHEMA, Vega.media_type: {"type": "object"}},
        takes={"multipart/form-data": AnalyseForm},
        example=examples.RESULT,
        refuses=(404,),
    )
    def post(self, request: Request) -> HttpResponseBase:
        settings = parse_settings(parsers.read_setting_texts(request))
        files = parsers.read_files(request)
        analysed = analysis.analyse_uploads(uploads_by_role=files, settings=settings, by=self.viewer)
        if request.accepted_renderer.format == "json":
            return Response(Result.represent(analysed.analysis.result))
        return replies.render_chart(request, _draw_analysis(analysed, settings.region))


def _draw_analysis(analysed: AnalysedUploads, region: int | None) -> dict[str, Any] | None:
    """Return the chart of a test that is stored nowhere; None for readings."""
    result, traces = analysed.analysis.result, analysed.analysis.traces
    shown = SimpleNamespace(kind=result["kind"], result=result)
    return test_chart.build_test_chart(shown, traces, reference.list_bands(region))
