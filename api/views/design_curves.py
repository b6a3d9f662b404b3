"""A design's curves over frequency, and their chart."""

from __future__ import annotations

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api import curve_files, drawings, examples, replies
from api.door import Door
from api.operations import BINARY, TEXT, operation
from api.renderers import CHART, Csv, Json, Touchstone
from api.serializers import designs as shown
from api.serializers.charts import DesignChartQuery
from measurements.charts import design_chart
from measurements.errors import BenchnightError
from measurements.queries import curves, designs, reference
from measurements.queries.rows import CurveSet


class DesignCurves(Door):
    is_shared = True
    renderer_classes = (Json, Csv, Touchstone)
    words = curve_files.CurveQuery

    @operation(
        "design_curves",
        "designs",
        "Curves of a design",
        "Median and 10th and 90th percentile over frequency, point by point over its devices. "
        "`?format=touchstone` (members) gives one of the three as a series-through two-port at 50 ohm: "
        "`curve` says which. It is no single device's curve.",
        shows=shown.DesignCurves,
        media={"text/csv": TEXT, "text/x-touchstone": TEXT},
        words=curve_files.CurveQuery,
        example=examples.CURVES,
        refuses=(403, 404),
    )
    def get(self, request: Request, id: str) -> HttpResponseBase:
        found = published(curves.of_design(self.viewer, id))
        form = request.accepted_renderer.format
        if form == "csv":
            return replies.text(curve_files.as_csv(found), "text/csv", f"design-{id}-curves.csv")
        if form == "touchstone":
            chosen = self.asked["curve"]
            content = curve_files.as_touchstone(found, chosen, designs.one(self.viewer, id).title)
            return replies.text(content, "text/x-touchstone", f"design-{id}-{chosen}.s2p")
        return Response(shown.DesignCurves(found).data)


class DesignChart(Door):
    is_shared = True
    renderer_classes = CHART
    words = DesignChartQuery

    @operation(
        "design_chart",
        "designs",
        "Chart of a design",
        "Its curves, bands and benchmark: a Vega-Lite specification, or drawn with `?format=svg` or `png`.",
        shows={"type": "object"},
        media={"image/svg+xml": TEXT, "image/png": BINARY},
        words=DesignChartQuery,
        example=examples.CHART,
        refuses=(404,),
    )
    def get(self, request: Request, id: str) -> HttpResponseBase:
        design = designs.one(self.viewer, id, benchmark_db=self.asked.get("benchmark_db"))
        found = published(curves.of_design(self.viewer, id))
        benchmark_db = self.asked.get("benchmark_db", reference.benchmark_db())
        spec = design_chart.build(design, found, reference.bands(), benchmark_db, scale=self.asked["scale"])
        return drawings.reply(request, spec)


def published(found: CurveSet | None) -> CurveSet:
    """The curves. Raises BenchnightError `curves.not_enough_devices` where there are none to see."""
    if found is None:
        raise BenchnightError(
            "curves.not_enough_devices",
            "The current release holds too few contributors' devices of this design to show curves to you.",
            kind="not_found",
        )
    return found
