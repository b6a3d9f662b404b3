"""Named lines over frequency as one layer: wide rows in, folded by the viewer's own machine."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from measurements.charts.colours import DASHES, PALETTES, Tone
from measurements.charts.panel_layers import FrequencyAxis, Spec, convert_to_mhz, round_figure

LETTER_PX, SYMBOL_PX, PHONE_PX = 6.5, 36, 300  # of a legend in the usual size; what a panel has on a phone


@dataclass(frozen=True)
class Line:
    """One line of a panel: the column of its figures and the words that name it."""

    column: str
    label: str


def build_rows(freq_hz: Sequence[float], columns: Mapping[str, Sequence[float | None]], digits: int) -> Spec:
    """Return data block of one row per frequency: {"f": MHz, column: figure or null, ...}."""
    values: list[dict[str, Any]] = []
    for index, frequency in enumerate(freq_hz):
        row: dict[str, Any] = {"f": convert_to_mhz(frequency)}
        row.update({name: round_figure(figures[index], digits) for name, figures in columns.items()})
        values.append(row)
    return {"values": values}


def build_line_layer(data: Spec, lines: Sequence[Line], y: Spec, x: FrequencyAxis, tone: Tone) -> Spec:
    """Return the lines, told apart by colour and by dash, with one legend that shows both."""
    labels = [line.label for line in lines]
    legend = build_legend(labels) if len(lines) > 1 else None
    return {
        "data": data,
        "transform": build_fold_transforms({line.column: line.label for line in lines}),
        "mark": {"type": "line", "clip": True, "tooltip": None},
        "encoding": {
            "x": x.encoding(),
            "y": {**y, "field": "figure"},
            "color": {
                "field": "series",
                "type": "nominal",
                "scale": {"domain": labels, "range": list(PALETTES[tone].series[: len(lines)])},
                "legend": legend,
            },
            "strokeDash": {
                "field": "series",
                "type": "nominal",
                "scale": {"domain": labels, "range": [list(dash) for dash in DASHES[: len(lines)]]},
                "legend": legend,
            },
        },
    }


def build_legend(labels: Sequence[str]) -> Spec:
    """Return a legend that fits a phone: two columns where the labels are too long side by side, else one."""
    widths_px = [len(label) * LETTER_PX + SYMBOL_PX for label in labels]
    if sum(widths_px) <= PHONE_PX:
        return {"symbolType": "stroke"}
    fits = max(widths_px[::2]) + max(widths_px[1::2]) <= PHONE_PX
    return {"symbolType": "stroke", "columns": 2 if fits else 1}


def build_fold_transforms(labels: Mapping[str, str]) -> list[Spec]:
    """Return transforms that fold these columns into `figure` and name each row's label in `series`.

    A label may have been typed by a member: it enters the expression as a quoted text and nothing else.
    """
    choice = " : ".join(
        f"datum.column === {json.dumps(column)} ? {json.dumps(label)}" for column, label in labels.items()
    )
    return [
        {"fold": list(labels), "as": ["column", "figure"]},
        {"calculate": f"{choice} : ''", "as": "series"},
    ]


# A design's percentiles as layers: the 10 to 90 % range as an area, the median as a heavy line.

LOW_COLUMN, HIGH_COLUMN = "{}_p10", "{}_p90"  # columns of one design among several


def build_range_layer(data: Spec, y: Spec, x: FrequencyAxis, tone: Tone) -> Spec:
    """Return between the columns p10 and p90."""
    return build_area_layer(data, "p10", "p90", y, x, PALETTES[tone].series[0], 0.22)


def build_area_layer(
    data: Spec, low: str, high: str, y: Spec, x: FrequencyAxis, colour: str, opacity: float
) -> Spec:
    """Return between two columns."""
    return {
        "data": data,
        "mark": {"type": "area", "color": colour, "opacity": opacity, "clip": True, "tooltip": None},
        "encoding": {"x": x.encoding(), "y": {**y, "field": low}, "y2": {"field": high}},
    }


def build_median_layer(data: Spec, y: Spec, x: FrequencyAxis, tone: Tone) -> Spec:
    """Return the column median."""
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
