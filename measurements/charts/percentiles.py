"""A design's percentiles as layers: the 10 to 90 % range as an area, the median as a heavy line."""

from __future__ import annotations

from measurements.charts import panel
from measurements.charts.panel import Spec
from measurements.charts.tones import PALETTES, Tone


def range_layer(data: Spec, y: Spec, span: tuple[float, float], tone: Tone) -> Spec:
    """Between the columns p10 and p90."""
    return {
        "data": data,
        "mark": {
            "type": "area",
            "color": PALETTES[tone].series[0],
            "opacity": 0.22,
            "clip": True,
            "tooltip": None,
        },
        "encoding": {"x": panel.x_axis(span), "y": {**y, "field": "p10"}, "y2": {"field": "p90"}},
    }


def median_layer(data: Spec, y: Spec, span: tuple[float, float], tone: Tone) -> Spec:
    """The column median."""
    return {
        "data": data,
        "mark": {
            "type": "line",
            "strokeWidth": 3,
            "color": PALETTES[tone].series[0],
            "clip": True,
            "tooltip": None,
        },
        "encoding": {"x": panel.x_axis(span), "y": {**y, "field": "median"}},
    }
