"""A device over time on one band: its worst rejection test by test, beside benchmark and commissioning.

The strip around the commissioning value is what repeating a test explains; a point outside it is a change.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any, cast

from measurements.charts import panel_layers
from measurements.charts.colours import PALETTES, Tone, build_config
from measurements.charts.panel_layers import Spec
from measurements.selectors.upkeep.service_states import TrendPoint

WIDTH_PX = 660


def build_trend_chart(
    band: str,
    points: Sequence[TrendPoint],
    *,
    benchmark_db: float,
    baseline_db: float | None = None,
    real_from_db: float | None = None,
    tone: Tone = "light",
    width_px: int | None = WIDTH_PX,
) -> Spec | None:
    """Return a Vega-Lite specification; None without points.

    baseline_db: at commissioning. real_from_db: the smallest change that repeating does not explain.
    """
    if not points:
        return None
    palette = PALETTES[tone]
    y: Spec = {
        "type": "quantitative",
        "title": "Worst rejection, dB",
        "scale": {"zero": False, "nice": True, "padding": 12},
    }
    days = sorted(point.measured_on for point in points)
    layers: list[Spec] = []
    if baseline_db is not None and real_from_db is not None:
        layers.append(_build_strip(baseline_db, real_from_db, y, palette.shade))
    if baseline_db is not None:
        layers += _build_level_layers(
            baseline_db, f"commissioning {baseline_db:.1f} dB", y, days[0], palette.faint, [2, 3]
        )
    layers += _build_level_layers(
        benchmark_db, f"benchmark {benchmark_db:g} dB", y, days[0], palette.limit, [6, 4]
    )
    layers += _build_test_layers(points, y, tone)
    drawn: Spec = {
        "$schema": panel_layers.VEGALITE_SCHEMA,
        "description": f"Worst rejection on {band} over {len(points)} tests, benchmark {benchmark_db:g} dB.",
        "padding": 5,
        "autosize": {"type": "fit-x", "contains": "padding"},
        "title": f"{band} over time",
        "width": "container" if width_px is None else width_px,
        "height": panel_layers.HEIGHT_PX,
        "layer": layers,
        "config": build_config(tone),
    }
    return cast(Spec, panel_layers.round_numbers(drawn))


def _encode_date() -> Spec:
    axis = {"format": "%b %Y", "labelOverlap": True, "grid": False, "tickCount": 6}
    return {"field": "on", "type": "temporal", "title": None, "axis": axis, "scale": {"padding": 20}}


def _build_test_layers(points: Sequence[TrendPoint], y: Spec, tone: Tone) -> list[Spec]:
    """Return a line through the tests that count, a mark per test: filled where it counts."""
    palette = PALETTES[tone]
    rows: list[dict[str, Any]] = [
        {
            "on": point.measured_on.isoformat(),
            "db": point.rejection_db,
            "counts": point.counts,
            "said": ("" if point.counts else "does not count; ")
            + ("at least" if point.at_least else "worst"),
        }
        for point in points
    ]
    y_db = {**y, "field": "db"}
    tooltip = [
        {"field": "on", "type": "temporal", "title": "Measured on", "format": "%d %b %Y"},
        {"field": "db", "type": "quantitative", "title": "Rejection, dB", "format": ".1f"},
        {"field": "said", "type": "nominal", "title": "Which is"},
    ]
    line: Spec = {
        "data": {"values": [row for row in rows if row["counts"]]},
        "mark": {"type": "line", "color": palette.series[0], "tooltip": None},
        "encoding": {"x": _encode_date(), "y": y_db},
    }
    marks: Spec = {
        "data": {"values": rows},
        "mark": {"type": "point", "size": 90, "opacity": 1, "strokeWidth": 2, "color": palette.series[0]},
        "encoding": {
            "x": _encode_date(),
            "y": y_db,
            "fill": {
                "condition": {"test": "datum.counts", "value": palette.series[0]},
                "value": palette.ground,
            },
            "tooltip": tooltip,
        },
    }
    return [line, marks]


def _build_strip(middle_db: float, half_db: float, y: Spec, colour: str) -> Spec:
    return {
        "data": {"values": [{"low": middle_db - half_db, "high": middle_db + half_db}]},
        "mark": {"type": "rect", "color": colour, "tooltip": None},
        "encoding": {"y": {**y, "field": "low"}, "y2": {"field": "high"}},
    }


def _build_level_layers(
    value: float, label: str, y: Spec, first: date, colour: str, dash: list[int]
) -> list[Spec]:
    data = {"values": [{"on": first.isoformat(), "limit": value, "label": label}]}
    words = {"type": "text", "align": "left", "baseline": "bottom", "dy": -3, "fontSize": 12}
    return [
        {
            "data": data,
            "mark": {
                "type": "rule",
                "strokeDash": dash,
                "strokeWidth": 1.5,
                "color": colour,
                "tooltip": None,
            },
            "encoding": {"y": {**y, "field": "limit"}},
        },
        {
            "data": data,
            "mark": {**words, "color": colour, "tooltip": None},
            "encoding": {
                "x": {"value": 6},
                "y": {**y, "field": "limit"},
                "text": {"field": "label"},
            },
        },
    ]
