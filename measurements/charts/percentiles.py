"""A design's percentiles as layers: the 10 to 90 % range as an area, the median as a heavy line."""

from __future__ import annotations

from measurements.charts.frequency_axis import FrequencyAxis
from measurements.charts.panel import Spec
from measurements.charts.tones import PALETTES, Tone

LOW, HIGH = "{}_p10", "{}_p90"  # columns of one design among several


def range_layer(data: Spec, y: Spec, x: FrequencyAxis, tone: Tone) -> Spec:
    """Between the columns p10 and p90."""
    return area(data, "p10", "p90", y, x, PALETTES[tone].series[0], 0.22)


def area(data: Spec, low: str, high: str, y: Spec, x: FrequencyAxis, colour: str, opacity: float) -> Spec:
    """Between two columns."""
    return {
        "data": data,
        "mark": {"type": "area", "color": colour, "opacity": opacity, "clip": True, "tooltip": None},
        "encoding": {"x": x.encoding(), "y": {**y, "field": low}, "y2": {"field": high}},
    }


def median_layer(data: Spec, y: Spec, x: FrequencyAxis, tone: Tone) -> Spec:
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
        "encoding": {"x": x.encoding(), "y": {**y, "field": "median"}},
    }
