"""Named lines over frequency as one layer: wide rows in, folded by the viewer's own machine."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from measurements.charts.panel import Spec, mhz, rounded, x_axis
from measurements.charts.tones import DASHES, PALETTES, Tone


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


def layer(data: Spec, lines: Sequence[Line], y: Spec, span_mhz: tuple[float, float], tone: Tone) -> Spec:
    """The lines, told apart by colour and by dash, with one legend that shows both."""
    labels = [line.label for line in lines]
    palette = PALETTES[tone].series
    rename = " : ".join(f"datum.column === '{line.column}' ? '{line.label}'" for line in lines)
    legend = {"symbolType": "stroke"} if len(lines) > 1 else None
    return {
        "data": data,
        "transform": [
            {"fold": [line.column for line in lines], "as": ["column", "figure"]},
            {"calculate": f"{rename} : ''", "as": "series"},
        ],
        "mark": {"type": "line", "clip": True, "tooltip": None},
        "encoding": {
            "x": x_axis(span_mhz),
            "y": {**y, "field": "figure"},
            "color": {
                "field": "series",
                "type": "nominal",
                "scale": {"domain": labels, "range": list(palette[: len(lines)])},
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
