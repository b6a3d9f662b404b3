"""The reader's own devices over the curves of their design.

Beside rejection each device is a line of its own in colour and dash. Beside impedance, colour and dash
already say which quantity: own devices are the same quantities in thin lines.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from measurements.charts import lines
from measurements.charts.frequency_axis import FrequencyAxis
from measurements.charts.lines import Line
from measurements.charts.panel import Spec
from measurements.charts.tones import DASHES, PALETTES, Tone
from measurements.queries.rows import OwnCurveRow

THIN, HEAVY = 1.0, 3.0
LABEL_LENGTH = 14  # a tag may be 64 characters, a legend may not


def columns(own: Sequence[OwnCurveRow]) -> dict[str, list[float | None]]:
    """Their rejection, by column."""
    return {f"own{place}": each.rejection_db for place, each in enumerate(own)}


def named(own: Sequence[OwnCurveRow]) -> list[Line]:
    """Column and words of each; the place in the list keeps two devices with one tag apart."""
    labels = [f"yours: {_short(each.tag)}" for each in own]
    return [
        Line(f"own{place}", label if labels.count(label) == 1 else f"{label} ({place + 1})")
        for place, label in enumerate(labels)
    ]


def read_out(own: Sequence[OwnCurveRow]) -> list[tuple[str, str]]:
    """Column and words for the pointer."""
    return [(line.column, line.label) for line in named(own)]


def impedance_layers(
    own: Sequence[OwnCurveRow], shown: Sequence[Line], y: Spec, x: FrequencyAxis, tone: Tone
) -> list[Spec]:
    """One layer per device, in the colours of `shown` (columns z, r and x of the design)."""
    layers = []
    for each, name in zip(own, named(own), strict=True):
        figures = {"z": each.impedance_ohm, "r": each.resistance_ohm, "x": each.reactance_ohm}
        rows = lines.rows(each.freq_hz, {line.column: figures[line.column] for line in shown}, digits=0)
        layers.append(
            {
                "data": rows,
                "transform": [
                    *lines.named({line.column: line.label for line in shown}),
                    {"calculate": json.dumps(name.label), "as": "whose"},
                ],
                "mark": {"type": "line", "clip": True, "tooltip": None},
                "encoding": {
                    "x": x.encoding(),
                    "y": {**y, "field": "figure"},
                    "color": _quantity(shown, list(PALETTES[tone].series)),
                    "strokeDash": _quantity(shown, [list(dash) for dash in DASHES]),
                    "strokeWidth": _thin(own),
                },
            }
        )
    return layers


def _quantity(shown: Sequence[Line], marks: list[Any]) -> Spec:
    labels = [line.label for line in shown]
    return {"field": "series", "type": "nominal", "scale": {"domain": labels, "range": marks[: len(labels)]}}


def _thin(own: Sequence[OwnCurveRow]) -> Spec:
    """The thin stroke with an entry of each device in the legend."""
    every = [line.label for line in named(own)]
    scale = {"domain": every, "range": [THIN] * len(every)}
    return {
        "field": "whose",
        "type": "nominal",
        "scale": scale,
        "legend": {**lines.legend_of(every), "orient": "bottom"},
    }


def _short(tag: str) -> str:
    return tag if len(tag) <= LABEL_LENGTH else tag[: LABEL_LENGTH - 1].rstrip() + "…"
