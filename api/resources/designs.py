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
from measurements.charts import figure_chart
from measurements.errors import BenchnightError
from measurements.rf.impedance_ratio import parse_ratio
from measurements.rf.networks import series_through
from measurements.rf.sweeps import touchstone
from measurements.rf.sweeps.sweep import Sweep
from measurements.selectors.designs import designs as designs_selectors
from measurements.selectors.designs.design_filters import DesignFilters, DesignWords
from measurements.selectors.designs.rows import DesignRow
from measurements.selectors.evidence import figure_curves
from measurements.selectors.evidence.design_curves import CurveSet
from measurements.selectors.evidence.figure_curves import AnyCurveSet, LossCurveSet
from measurements.selectors.reference import reference
from measurements.services.designs import designs as designs_services
from measurements.verdict.judged_kinds import COMMON_MODE

# A design's curves as CSV and as Touchstone.

REFERENCE_OHM = 50.0

QUANTITIES = {
    "common_mode": ("rejection_db", "resistance_ohm", "reactance_ohm", "impedance_ohm"),
    "insertion_loss": ("loss_db", "dissipative_db", "mismatch_db", "heat_w_per_100_w"),
    "load_match": ("swr",),
}


def format_curves_csv(found: AnyCurveSet) -> str:
    """Return a row per frequency; columns such as `rejection_db.median`, only those that may be seen."""
    shown = {
        f"{quantity}.{statistic}": values
        for quantity in QUANTITIES[found.kind]
        for statistic in CURVE_STATISTICS
        if (values := (getattr(found, quantity) or {}).get(statistic)) is not None
    }
    rows = [
        {"freq_hz": freq_hz, **{name: values[index] for name, values in shown.items()}}
        for index, freq_hz in enumerate(found.freq_hz)
    ]
    return replies.format_csv(rows, ("freq_hz", *shown))


def format_touchstone(found: AnyCurveSet, statistic: str, design: DesignRow) -> str:
    """Return one statistic as a two-port: of rejection a series impedance, of loss one of the design's ratio.

    Raises BenchnightError `curves.not_shown`, and `curves.no_two_port` for a match.
    """
    if isinstance(found, CurveSet):
        return format_choke_touchstone(found, statistic, design.title)
    if isinstance(found, LossCurveSet):
        return format_loss_touchstone(found, statistic, design)
    raise BenchnightError(
        "curves.no_two_port",
        "An SWR makes no two-port. Ask for `kind=insertion_loss`, or for CSV.",
        kind="not_found",
    )


def format_loss_touchstone(found: LossCurveSet, statistic: str, design: DesignRow) -> str:
    """Return one statistic of the loss as a two-port with references (Z0, ratio x Z0).

    S21 has the size of the loss and S11 that of its mismatch, both with phase 0, which is not published. S22
    is -S11: columns of S are then at right angles, and the power lost is that of the curve for either port.
    Without a split of the loss, and beside percentiles, S11 is 0 and the whole loss is one of transmission.
    Raises BenchnightError `curves.not_shown`.
    """
    loss_db, mismatch = found.loss_db[statistic], found.mismatch_db
    if loss_db is None:
        raise _build_not_shown()
    known = [index for index, value in enumerate(loss_db) if value is not None]
    through_db = np.array([loss_db[index] for index in known], dtype=np.float64)
    split = mismatch["median"] if mismatch is not None and statistic == "median" else None
    mismatch_db = np.array([0.0 if split is None else split[index] or 0.0 for index in known])
    reflected, through = np.sqrt(1 - 10 ** (-mismatch_db / 10)), 10 ** (-through_db / 20)
    ratio = float(parse_ratio(design.ratio))
    columns = [[reflected, through], [through, -reflected]]
    sweep = Sweep(
        freq_hz=np.array([found.freq_hz[index] for index in known]),
        s=np.moveaxis(np.array(columns, dtype=np.complex128), -1, 0),
        z0_ohm=np.array([REFERENCE_OHM, ratio * REFERENCE_OHM]),
        measured=np.ones((2, 2), dtype=bool),
    )
    split_said = (
        "S11 and S22 = -S11 have the size of the median mismatch."
        if split is not None
        else "How much of the loss is mismatch is not published here; S11 and S22 are 0."
    )
    comments = [
        f"Benchnight: {design.title}",
        f"{statistic} of loss over {found.devices} devices, point by point; references {REFERENCE_OHM:g} and "
        f"{ratio * REFERENCE_OHM:g} ohm.",
        f"Sizes only: phases are not published and are 0. {split_said}",
        "No single device's curve. A sweep at milliwatts proves nothing about power.",
    ]
    return touchstone.format_touchstone(sweep, comments=comments)


def _build_not_shown() -> BenchnightError:
    return BenchnightError(
        "curves.not_shown",
        "This curve is shown from more people on. Ask for `curve=median`.",
        kind="not_found",
    )


def format_choke_touchstone(found: CurveSet, statistic: str, title: str) -> str:
    """Return one statistic as the two-port of a series impedance, at the frequencies where it has a value.

    Raises BenchnightError `curves.not_shown` where the statistic is not shown.
    """
    resistance_ohm = found.resistance_ohm[statistic]
    reactance_ohm = found.reactance_ohm[statistic]
    if resistance_ohm is None or reactance_ohm is None:
        raise _build_not_shown()
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
        "percentile too. `?format=touchstone` gives one of the three as a two-port, `curve` says which: of "
        "rejection a series-through one at 50 ohm, of loss one with references 50 and ratio x 50 ohm. It is "
        "no single device's curve.",
        shows=designs_serializers.DesignCurves,
        media={"text/csv": TEXT_SCHEMA, "text/x-touchstone": TEXT_SCHEMA},
        words=designs_serializers.CurveQuery,
        example=examples.CURVES,
        refuses=(403, 404),
    )
    def get(self, request: Request, id: str) -> HttpResponseBase:
        design = designs_selectors.get_design(self.viewer, id, kind=self.asked.get("kind"))
        found = require_curves(figure_curves.get_curves_of_kind(self.viewer, id, design.kind))
        form = request.accepted_renderer.format
        if form == "csv":
            return replies.render_text(format_curves_csv(found), "text/csv", f"design-{id}-curves.csv")
        if form == "touchstone":
            chosen = self.asked["curve"]
            content = format_touchstone(found, chosen, design)
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
        asked = {name: self.asked.get(name) for name in ("benchmark_db", "kind")}
        design = designs_selectors.get_design(self.viewer, id, **asked)
        found = require_curves(figure_curves.get_curves_of_kind(self.viewer, id, design.kind))
        limit = asked["benchmark_db"] if design.kind == COMMON_MODE else None
        spec = figure_chart.build_chart_of_kind(
            design,
            found,
            reference.list_bands(),
            limit or reference.get_limits()[design.kind],
            scale=self.asked["scale"],
        )
        return replies.render_chart(request, spec, is_published=True)


def require_curves(found: AnyCurveSet | None) -> AnyCurveSet:
    """Return the curves. Raises BenchnightError `curves.not_enough_devices` where there are none to see."""
    if found is None:
        raise BenchnightError(
            "curves.not_enough_devices",
            "The current release holds too few contributors' devices of this design to show curves to you.",
            kind="not_found",
        )
    return found


TABLE_MEDIA = {"text/csv": TEXT_SCHEMA, "application/x-ndjson": TEXT_SCHEMA}

FILTER_NAMES = tuple(name for name in DesignFilters.__dataclass_fields__ if name != "words")


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
        "jointly, device by device. Without `kind` each is answered by what it is judged by first. The "
        "public sees the evidence of "
        "designs with five contributors or more, rounded.",
        shows=make_list_serializer(designs_serializers.Design, name="Designs"),
        media=TABLE_MEDIA,
        words=designs_serializers.DesignQuery,
        example=examples.make_list(examples.DESIGN),
    )
    def get(self, request: Request) -> HttpResponseBase:
        typed = self.asked.get("q")
        words = DesignWords(**designs_services.read_said_parts(typed)) if typed else None
        ranked = designs_selectors.rank_designs(
            self.viewer,
            filters=DesignFilters(**{name: self.asked.get(name) for name in FILTER_NAMES}, words=words),
            bands=tuple(self.asked.get("band", ())),
            benchmark_db=self.asked.get("benchmark_db"),
            kind=self.asked.get("kind"),
            metric_limit=self.asked.get("metric_limit"),
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
        "Per band the verdict and its figures, by default of what the design is judged by first: below "
        "ten people a count, a chance in tenths and a median in "
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
    return {
        "bands": tuple(asked.get("band", ())),
        "benchmark_db": asked.get("benchmark_db"),
        "kind": asked.get("kind"),
        "metric_limit": asked.get("limit"),
    }
