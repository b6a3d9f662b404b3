"""The control chart of a check standard on one band: sweep after sweep, mean, three s, and the limits.

Limits are drawn as each sweep was held against them: they come closer as sessions join. A sweep outside has
another shape besides another colour, so that a print in grey still shows it.
"""

from __future__ import annotations

from typing import Any, cast

from measurements.charts import panel_layers
from measurements.charts.colours import PALETTES, Tone, build_config
from measurements.charts.panel_layers import Spec
from measurements.selectors.check_standards.check_standards import BandRow, ChartRow

WIDTH_PX = 660
TITLES = {"rejection_db": "Rejection, dB", "swr": "SWR", "loss_db": "Loss, dB"}
FORMATS = {"rejection_db": ".1f", "swr": ".3f", "loss_db": ".2f"}
MOST_POINTS = 60  # the newest; the table has all


def build_check_chart(
    chart: ChartRow, band: str, *, tone: Tone = "light", width_px: int | None = WIDTH_PX
) -> Spec | None:
    """Return a Vega-Lite specification of one band; None where the chart has no such band."""
    found = next((row for row in chart.bands if row.band == band), None)
    if found is None:
        return None
    y: Spec = {
        "type": "quantitative",
        "title": TITLES[chart.figure],
        "scale": {"zero": False, "nice": True, "padding": 12},
    }
    rows = _build_rows(found)
    layers = [
        *_build_strip(found, y, tone),
        *_build_limits(rows, y, tone),
        *_build_points(rows, chart, y, tone),
    ]
    outside = sum(row["outside"] for row in rows)
    drawn: Spec = {
        "$schema": panel_layers.VEGALITE_SCHEMA,
        "description": f"Check standard on {band} at {chart.bench_name}: {len(rows)} sweeps, "
        f"{outside} outside the limits.",
        "padding": 5,
        "autosize": {"type": "fit-x", "contains": "padding"},
        "title": f"{band}, sweep after sweep",
        "width": "container" if width_px is None else width_px,
        "height": panel_layers.HEIGHT_PX,
        "layer": layers,
        "config": build_config(tone),
    }
    return cast(Spec, panel_layers.round_numbers(drawn))


def _build_rows(band: BandRow) -> list[dict[str, Any]]:
    kept = [(at, point) for at, point in enumerate(band.points, start=1) if point.value is not None]
    return [
        {
            "n": at,
            "on": point.on.isoformat(),
            "value": point.value,
            "low": point.low,
            "high": point.high,
            "outside": point.outside,
            "said": "outside its limits"
            if point.outside
            else "within its limits"
            if point.low is not None
            else "no limits yet",
        }
        for at, point in kept[-MOST_POINTS:]
    ]


def _encode_order() -> Spec:
    axis = {"grid": False, "labelAngle": 0, "labelOverlap": True}
    return {"field": "n", "type": "ordinal", "title": "Sweep, in order", "axis": axis}


def _build_strip(band: BandRow, y: Spec, tone: Tone) -> list[Spec]:
    """Return the strip of three s about the mean, and the mean."""
    if band.mean is None or band.three_s is None:
        return []
    palette = PALETTES[tone]
    strip = {"low": band.mean - band.three_s, "high": band.mean + band.three_s}
    return [
        {
            "data": {"values": [strip]},
            "mark": {"type": "rect", "color": palette.shade, "tooltip": None},
            "encoding": {"y": {**y, "field": "low"}, "y2": {"field": "high"}},
        },
        {
            "data": {"values": [{"mean": band.mean}]},
            "mark": {"type": "rule", "color": palette.faint, "strokeWidth": 1.5, "tooltip": None},
            "encoding": {"y": {**y, "field": "mean"}},
        },
    ]


def _build_limits(rows: list[dict[str, Any]], y: Spec, tone: Tone) -> list[Spec]:
    known = [row for row in rows if row["low"] is not None]
    mark = {
        "type": "line",
        "interpolate": "step",
        "strokeDash": [6, 4],
        "strokeWidth": 1.5,
        "color": PALETTES[tone].limit,
        "tooltip": None,
    }
    return [
        {
            "data": {"values": known},
            "mark": mark,
            "encoding": {"x": _encode_order(), "y": {**y, "field": side}},
        }
        for side in ("low", "high")
        if known
    ]


def _build_points(rows: list[dict[str, Any]], chart: ChartRow, y: Spec, tone: Tone) -> list[Spec]:
    palette = PALETTES[tone]
    number = {"type": "quantitative", "format": FORMATS[chart.figure]}
    tooltip = [
        {"field": "on", "type": "temporal", "title": "Measured on", "format": "%d %b %Y"},
        {**number, "field": "value", "title": TITLES[chart.figure]},
        {**number, "field": "low", "title": "At least"},
        {**number, "field": "high", "title": "At most"},
        {"field": "said", "type": "nominal", "title": "Which is"},
    ]
    line: Spec = {
        "data": {"values": rows},
        "mark": {"type": "line", "color": palette.series[0], "strokeWidth": 1, "tooltip": None},
        "encoding": {"x": _encode_order(), "y": {**y, "field": "value"}},
    }
    marks: Spec = {
        "data": {"values": rows},
        "mark": {"type": "point", "size": 80, "opacity": 1, "strokeWidth": 2, "filled": True},
        "encoding": {
            "x": _encode_order(),
            "y": {**y, "field": "value"},
            "shape": {"condition": {"test": "datum.outside", "value": "triangle-up"}, "value": "circle"},
            "size": {"condition": {"test": "datum.outside", "value": 220}, "value": 80},
            "color": {
                "condition": {"test": "datum.outside", "value": palette.limit},
                "value": palette.series[0],
            },
            "tooltip": tooltip,
        },
    }
    return [line, marks]
