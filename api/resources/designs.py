"""Designs and what the evidence supports for them."""

from __future__ import annotations

from typing import Any

import numpy as np
from django.http import HttpResponseBase
from rest_framework.exceptions import ParseError
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import replies
from api.http.renderers import CHART_RENDERERS, TABLE_RENDERERS, Csv, Json, Touchstone
from api.http.replies import build_absolute_address
from api.http.views import ResourceView
from api.schema import examples
from api.schema.operations import BINARY_SCHEMA, TEXT_SCHEMA, describe_operation, make_list_serializer
from api.serializers import designs as designs_serializers
from api.serializers.designs import CURVE_STATISTICS, DesignChartQuery, Recipe
from api.serializers.evidence import BandEvidence
from measurements.charts import design_chart
from measurements.errors import BenchnightError
from measurements.rf.networks import series_through
from measurements.rf.sweeps import touchstone
from measurements.rf.sweeps.sweep import Sweep
from measurements.selectors.designs import designs as designs_selectors
from measurements.selectors.designs.design_filters import DesignFilters
from measurements.selectors.evidence import design_curves
from measurements.selectors.evidence.design_curves import CurveSet
from measurements.selectors.reference import reference
from measurements.services.designs import designs as designs_services

# A design's curves as CSV and as Touchstone.

REFERENCE_OHM = 50.0

QUANTITIES = ("rejection_db", "resistance_ohm", "reactance_ohm", "impedance_ohm")


def format_curves_csv(found: CurveSet) -> str:
    """Return a row per frequency; columns such as `rejection_db.median`, only those that may be seen."""
    shown = {
        f"{quantity}.{statistic}": values
        for quantity in QUANTITIES
        for statistic in CURVE_STATISTICS
        if (values := getattr(found, quantity)[statistic]) is not None
    }
    rows = [
        {"freq_hz": freq_hz, **{name: values[index] for name, values in shown.items()}}
        for index, freq_hz in enumerate(found.freq_hz)
    ]
    return replies.format_csv(rows, ("freq_hz", *shown))


def format_curves_touchstone(found: CurveSet, statistic: str, title: str) -> str:
    """Return one statistic as the two-port of a series impedance, at the frequencies where it has a value.

    Raises BenchnightError `curves.not_shown` where the statistic is not shown.
    """
    resistance_ohm = found.resistance_ohm[statistic]
    reactance_ohm = found.reactance_ohm[statistic]
    if resistance_ohm is None or reactance_ohm is None:
        raise BenchnightError(
            "curves.not_shown",
            "This curve is shown from more people on. Ask for `curve=median`.",
            kind="not_found",
        )
    known = [
        (freq_hz, complex(r_ohm, x_ohm))
        for freq_hz, r_ohm, x_ohm in zip(found.freq_hz, resistance_ohm, reactance_ohm, strict=True)
        if r_ohm is not None and x_ohm is not None
    ]
    sweep = Sweep(
        freq_hz=np.array([freq_hz for freq_hz, _ in known]),
        s=series_through.build_series_s(np.array([z_ohm for _, z_ohm in known]), REFERENCE_OHM),
        z0_ohm=np.full(2, REFERENCE_OHM),
        measured=np.ones((2, 2), dtype=bool),
    )
    comments = [
        f"Benchnight: {title}",
        f"{statistic} of rejection over {found.devices} devices, point by point, with the median's phase.",
        "No single device's curve. A sweep at milliwatts proves nothing about power.",
    ]
    return touchstone.format_touchstone(sweep, comments=comments)


# A design's curves over frequency, and their chart.


class DesignCurvesView(ResourceView):
    is_shared = True
    renderer_classes = (Json, Csv, Touchstone)
    words = designs_serializers.CurveQuery

    @describe_operation(
        "design_curves",
        "designs",
        "Curves of a design",
        "Median over frequency, point by point over its devices; from ten people on the 10th and 90th "
        "percentile too. `?format=touchstone` gives one of the three as a series-through two-port at 50 ohm: "
        "`curve` says which. It is no single device's curve.",
        shows=designs_serializers.DesignCurves,
        media={"text/csv": TEXT_SCHEMA, "text/x-touchstone": TEXT_SCHEMA},
        words=designs_serializers.CurveQuery,
        example=examples.CURVES,
        refuses=(403, 404),
    )
    def get(self, request: Request, id: str) -> HttpResponseBase:
        found = require_curves(design_curves.get_design_curves(self.viewer, id))
        form = request.accepted_renderer.format
        if form == "csv":
            return replies.render_text(format_curves_csv(found), "text/csv", f"design-{id}-curves.csv")
        if form == "touchstone":
            chosen = self.asked["curve"]
            content = format_curves_touchstone(
                found, chosen, designs_selectors.get_design(self.viewer, id).title
            )
            return replies.render_text(content, "text/x-touchstone", f"design-{id}-{chosen}.s2p")
        return Response(designs_serializers.DesignCurves.represent(found))


class DesignChartView(ResourceView):
    is_shared = True
    renderer_classes = CHART_RENDERERS
    words = DesignChartQuery

    @describe_operation(
        "design_chart",
        "designs",
        "Chart of a design",
        "Its curves, bands and benchmark: a Vega-Lite specification, or drawn with `?format=svg` or `png`.",
        shows={"type": "object"},
        media={"image/svg+xml": TEXT_SCHEMA, "image/png": BINARY_SCHEMA},
        words=DesignChartQuery,
        example=examples.CHART,
        refuses=(404,),
    )
    def get(self, request: Request, id: str) -> HttpResponseBase:
        design = designs_selectors.get_design(self.viewer, id, benchmark_db=self.asked.get("benchmark_db"))
        found = require_curves(design_curves.get_design_curves(self.viewer, id))
        benchmark_db = self.asked.get("benchmark_db", reference.get_benchmark_db())
        spec = design_chart.build_design_chart(
            design, found, reference.list_bands(), benchmark_db, scale=self.asked["scale"]
        )
        return replies.render_chart(request, spec, is_published=True)


def require_curves(found: CurveSet | None) -> CurveSet:
    """Return the curves. Raises BenchnightError `curves.not_enough_devices` where there are none to see."""
    if found is None:
        raise BenchnightError(
            "curves.not_enough_devices",
            "The current release holds too few contributors' devices of this design to show curves to you.",
            kind="not_found",
        )
    return found


TABLE_MEDIA = {"text/csv": TEXT_SCHEMA, "application/x-ndjson": TEXT_SCHEMA}

FILTER_NAMES = tuple(DesignFilters.__dataclass_fields__)


class DesignsView(ResourceView):
    takes_recipes = True
    is_shared = True
    renderer_classes = TABLE_RENDERERS
    members_only = frozenset({"POST"})
    words = designs_serializers.DesignQuery

    @describe_operation(
        "designs",
        "designs",
        "Find designs",
        "Designs that fit the filters, best supported by the evidence first. Several bands are judged "
        "jointly, device by device. The public sees the evidence of "
        "designs with five contributors or more, rounded.",
        shows=make_list_serializer(designs_serializers.Design, name="Designs"),
        media=TABLE_MEDIA,
        words=designs_serializers.DesignQuery,
        example=examples.make_list(examples.DESIGN),
    )
    def get(self, request: Request) -> HttpResponseBase:
        ranked = designs_selectors.rank_designs(
            self.viewer,
            filters=DesignFilters(**{name: self.asked.get(name) for name in FILTER_NAMES}),
            bands=tuple(self.asked.get("band", ())),
            benchmark_db=self.asked.get("benchmark_db"),
            order=self.asked["order"],
        )
        return replies.render_list(request, designs_serializers.Design, self.asked, ranked.get_page)

    @describe_operation(
        "register_design",
        "designs",
        "Register a design",
        "A recipe. Two members who send the same one, in whatever order, case or unit, reach the same "
        "design: 201 for a new one, 200 with the one that already has this recipe.",
        shows=designs_serializers.Design,
        status=201,
        also={200: designs_serializers.Design},
        takes={"application/json": Recipe},
        sends=examples.RECIPE,
        example=examples.DESIGN,
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        if not isinstance(request.data, dict):
            raise ParseError
        stored = designs_services.register_design(by=self.viewer, recipe_given=request.data)
        data = designs_serializers.Design.represent(designs_selectors.get_design(self.viewer, stored.key))
        where = build_absolute_address(request, "design", stored.key)
        return Response(data, status=201 if stored.created else 200, headers={"Location": where})


class DesignView(ResourceView):
    is_shared = True
    words = designs_serializers.EvidenceQuery

    @describe_operation(
        "design",
        "designs",
        "A design",
        "Its recipe, and what the current release supports for it on the bands asked for.",
        shows=designs_serializers.Design,
        words=designs_serializers.EvidenceQuery,
        example=examples.DESIGN,
        refuses=(404,),
    )
    def get(self, request: Request, id: str) -> Response:
        return Response(
            designs_serializers.Design.represent(
                designs_selectors.get_design(self.viewer, id, **_select_evidence_query(self.asked))
            )
        )


class DesignEvidenceView(ResourceView):
    is_shared = True
    renderer_classes = TABLE_RENDERERS
    words = designs_serializers.EvidenceQuery

    @describe_operation(
        "design_evidence",
        "designs",
        "Evidence of a design",
        "Per band the verdict and its figures: below ten people a count, a chance in tenths and a median in "
        "whole dB; from ten on percentiles, shares and a histogram. The public sees counts as ranges.",
        shows=make_list_serializer(BandEvidence, name="DesignBands", pages=False),
        media=TABLE_MEDIA,
        words=designs_serializers.EvidenceQuery,
        example=examples.make_list(examples.BAND_EVIDENCE),
        refuses=(404,),
    )
    def get(self, request: Request, id: str) -> Response:
        rows = designs_selectors.get_design_evidence(self.viewer, id, **_select_evidence_query(self.asked))
        return replies.render_rows(request, BandEvidence, rows)


def _select_evidence_query(asked: dict[str, Any]) -> dict[str, Any]:
    return {"bands": tuple(asked.get("band", ())), "benchmark_db": asked.get("benchmark_db")}
