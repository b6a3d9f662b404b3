"""What belongs to a test: its files, its chart, and where it stands within its design's evidence."""

from __future__ import annotations

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api import drawings, examples, replies, sweep_files
from api.door import Door
from api.operations import BINARY, TEXT, operation
from api.renderers import CHART, Raw, Touchstone
from api.serializers.charts import ChartQuery
from api.serializers.tests import Comparison
from api.sweep_files import SweepQuery
from measurements.charts import test_chart
from measurements.queries import comparison, reference, tests


class TestSweep(Door):
    __test__ = False
    renderer_classes = (Raw, Touchstone)
    words = SweepQuery
    members_only = frozenset({"GET", "HEAD"})

    @operation(
        "test_sweep",
        "tests",
        "A file of a test",
        "The original bytes, unchanged, with their SHA-256 in Content-Digest. With `?format=touchstone` the "
        "test's sweep as a Touchstone file in one of two forms, whose head says how it was made. "
        "`form=merged`: with the sweep of the device turned round as one full two-port. `form=compensated`: "
        "a common-mode test after its jig's corrections, as the two-port of a series impedance.",
        shows=None,
        media={"application/octet-stream": BINARY, "text/x-touchstone": TEXT},
        words=SweepQuery,
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str, role: str) -> HttpResponseBase:
        row, data = tests.sweep(self.viewer, id, role)
        form = self.asked["form"]
        if request.accepted_renderer.format == "touchstone":
            return sweep_files.corrected(self.viewer, id, role, form)
        sweep_files.check_raw(form)
        return replies.attachment(data, row.name, row.sha256)


class TestChart(Door):
    __test__ = False
    renderer_classes = CHART
    words = ChartQuery
    members_only = frozenset({"GET", "HEAD"})

    @operation(
        "test_chart",
        "tests",
        "Chart of a test",
        "Its curves as a Vega-Lite specification, or with `?format=svg` or `png` drawn.",
        shows={"type": "object"},
        media={"image/svg+xml": TEXT, "image/png": BINARY},
        words=ChartQuery,
        example=examples.CHART,
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> HttpResponseBase:
        test = tests.one(self.viewer, id)
        bands = reference.bands(test.settings.get("region"), test.measured_on)
        traces, scale = tests.traces(self.viewer, id), self.asked["scale"]
        return drawings.reply(request, test_chart.build(test, traces, bands, scale=scale))


class TestComparison(Door):
    __test__ = False
    members_only = frozenset({"GET", "HEAD"})

    @operation(
        "test_comparison",
        "tests",
        "A test within its design's evidence",
        "Per band the percentile of the test's worst rejection among the published devices of its design.",
        shows=Comparison,
        example=examples.COMPARISON,
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return Response(Comparison(comparison.of_test(self.viewer, id)).data)
