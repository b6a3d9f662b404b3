"""Named lines over frequency as one layer: wide rows in, folded by the viewer's own machine."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from measurements.charts.frequency_axis import FrequencyAxis
from measurements.charts.panel import Spec, mhz, rounded
from measurements.charts.tones import DASHES, PALETTES, Tone

LETTER_PX, SYMBOL_PX, PHONE_PX = 6.5, 36, 300  # of a legend in the usual size; what a panel has on a phone


@dataclass(frozen=True)
class Line:
    """One line of a panel: the column of its figures and the words that name it."""

    column: str
    label: str


def rows(freq_hz: Sequence[float], columns: Mapping[str, Sequence[float | None]], digits: int) -> Spec:
    """Data block of one row per frequency: {"f": MHz, column: figure or null, ...}."""
    values: list[dict[str, Any]] = []
    for index, frequency in enumerate(freq_hz):
        row: dict[str, Any] = {"f": mhz(frequency)}
        row.update({name: rounded(figures[index], digits) for name, figures in columns.items()})
        values.append(row)
    return {"values": values}


def layer(data: Spec, lines: Sequence[Line], y: Spec, x: FrequencyAxis, tone: Tone) -> Spec:
    """The lines, told apart by colour and by dash, with one legend that shows both."""
    labels = [line.label for line in lines]
    legend = legend_of(labels) if len(lines) > 1 else None
    return {
        "data": data,
        "transform": named({line.column: line.label for line in lines}),
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


def legend_of(labels: Sequence[str]) -> Spec:
    """A legend that fits a phone: two columns where the labels are too long side by side, else one."""
    widths_px = [len(label) * LETTER_PX + SYMBOL_PX for label in labels]
    if sum(widths_px) <= PHONE_PX:
        return {"symbolType": "stroke"}
    fits = max(widths_px[::2]) + max(widths_px[1::2]) <= PHONE_PX
    return {"symbolType": "stroke", "columns": 2 if fits else 1}


def named(labels: Mapping[str, str]) -> list[Spec]:
    """Transforms that fold these columns into `figure` and name each row's label in `series`.

    A label may have been typed by a member: it enters the expression as a quoted text and nothing else.
    """
    choice = " : ".join(
        f"datum.column === {json.dumps(column)} ? {json.dumps(label)}" for column, label in labels.items()
    )
    return [
        {"fold": list(labels), "as": ["column", "figure"]},
        {"calculate": f"{choice} : ''", "as": "series"},
    ]
