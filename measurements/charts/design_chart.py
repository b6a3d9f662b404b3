"""The chart of a design: median and 10-90 % range of its devices' curves, with bands and benchmark.

What a circle may not see is not in the `CurveSet`, so it cannot get into the specification.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any, Literal

from measurements.charts import line_layers, panel_layers
from measurements.charts.colours import DASHES, PALETTES, Tone
from measurements.charts.line_layers import Line
from measurements.charts.panel_layers import FrequencyAxis, Scale, Spec
from measurements.selectors.designs.rows import DesignRow
from measurements.selectors.evidence.design_curves import CurveSet, OwnCurveRow
from measurements.selectors.reference.reference import BandRow

# The reader's own devices over the curves of their design.
#
# Beside rejection each device is a line of its own in colour and dash. Beside impedance, colour and dash
# already say which quantity: own devices are the same quantities in thin lines.

THIN_STROKE, HEAVY_STROKE = 1.0, 3.0

OWN_LABEL_LENGTH = 14  # a tag may be 64 characters, a legend may not


def build_own_columns(own: Sequence[OwnCurveRow]) -> dict[str, list[float | None]]:
    """Return their rejection, by column."""
    return {f"own{place}": each.rejection_db for place, each in enumerate(own)}


def label_own_lines(own: Sequence[OwnCurveRow]) -> list[Line]:
    """Return column and words of each; the place in the list keeps two devices with one tag apart."""
    labels = [f"yours: {_shorten_tag(each.tag)}" for each in own]
    return [
        Line(f"own{place}", label if labels.count(label) == 1 else f"{label} ({place + 1})")
        for place, label in enumerate(labels)
    ]


def list_own_read_outs(own: Sequence[OwnCurveRow]) -> list[tuple[str, str]]:
    """Return column and words for the pointer."""
    return [(line.column, line.label) for line in label_own_lines(own)]


def build_own_impedance_layers(
    own: Sequence[OwnCurveRow], shown: Sequence[Line], y: Spec, x: FrequencyAxis, tone: Tone
) -> list[Spec]:
    """Return one layer per device, in the colours of `shown` (columns z, r and x of the design)."""
    layers = []
    for each, name in zip(own, label_own_lines(own), strict=True):
        figures = {"z": each.impedance_ohm, "r": each.resistance_ohm, "x": each.reactance_ohm}
        rows = line_layers.build_rows(
            each.freq_hz, {line.column: figures[line.column] for line in shown}, digits=0
        )
        layers.append(
            {
                "data": rows,
                "transform": [
                    *line_layers.build_fold_transforms({line.column: line.label for line in shown}),
                    {"calculate": json.dumps(name.label), "as": "whose"},
                ],
                "mark": {"type": "line", "clip": True, "tooltip": None},
                "encoding": {
                    "x": x.encoding(),
                    "y": {**y, "field": "figure"},
                    "color": _encode_quantity(shown, list(PALETTES[tone].series)),
                    "strokeDash": _encode_quantity(shown, [list(dash) for dash in DASHES]),
                    "strokeWidth": _encode_thin_strokes(own),
                },
            }
        )
    return layers


def _encode_quantity(shown: Sequence[Line], marks: list[Any]) -> Spec:
    labels = [line.label for line in shown]
    return {"field": "series", "type": "nominal", "scale": {"domain": labels, "range": marks[: len(labels)]}}


def _encode_thin_strokes(own: Sequence[OwnCurveRow]) -> Spec:
    """Return the thin stroke with an entry of each device in the legend."""
    every = [line.label for line in label_own_lines(own)]
    scale = {"domain": every, "range": [THIN_STROKE] * len(every)}
    return {
        "field": "whose",
        "type": "nominal",
        "scale": scale,
        "legend": {**line_layers.build_legend(every), "orient": "bottom"},
    }


def _shorten_tag(tag: str) -> str:
    return tag if len(tag) <= OWN_LABEL_LENGTH else tag[: OWN_LABEL_LENGTH - 1].rstrip() + "…"


View = Literal["both", "rejection", "impedance"]

VIEWS: tuple[View, ...] = ("both", "rejection", "impedance")

WIDTH_PX = 720

IMPEDANCE_LINES = (
    Line("z", "|Z|"),
    Line("r", "R"),
    Line("x", "X"),
)

STATISTIC_LABELS = {"median": "median", "p10": "one in ten below", "p90": "one in ten above"}


def build_design_chart(
    design: DesignRow,
    curves: CurveSet,
    bands: Sequence[BandRow],
    benchmark_db: float,
    *,
    own: Sequence[OwnCurveRow] = (),
    view: View = "both",
    scale: Scale = "log",
    tone: Tone = "light",
    width_px: int | None = WIDTH_PX,
) -> Spec:
    """Return a Vega-Lite specification, at most about 150 kB whatever the evidence.

    own: the reader's own devices, drawn over it; such a chart is theirs alone. view: which panel, or both
    below each other (then `width_px` must be a number).
    """
    x = FrequencyAxis(scale=scale)
    panels = []
    if view in ("both", "rejection"):
        layers = _build_rejection_layers(curves, own, bands, benchmark_db, x, tone)
        panels.append(panel_layers.build_panel(layers, "Rejection", width_px))
    if view in ("both", "impedance"):
        panels.append(
            panel_layers.build_panel(
                _build_impedance_layers(curves, own, bands, x, tone), "Impedance", width_px
            )
        )
    description = (
        f"{design.title}: common-mode rejection and impedance over frequency, "
        f"{curves.devices} devices, benchmark {benchmark_db:g} dB."
    )
    return panel_layers.build_specification(panels, description, tone)


def _build_rejection_layers(
    curves: CurveSet,
    own: Sequence[OwnCurveRow],
    bands: Sequence[BandRow],
    benchmark_db: float,
    x: FrequencyAxis,
    tone: Tone,
) -> list[Spec]:
    y: Spec = {"type": "quantitative", "title": "Rejection, dB", "scale": {"zero": True, "nice": True}}
    columns = {name: figures for name in STATISTIC_LABELS if (figures := curves.rejection_db.get(name))}
    mine = build_own_columns(own)
    data = line_layers.build_rows(curves.freq_hz, {**columns, **mine}, digits=2)
    layers = panel_layers.build_band_layers(bands, x, tone)
    if "p10" in columns and "p90" in columns:
        layers.append(line_layers.build_range_layer(data, y, x, tone))
    if mine and "median" in columns:
        named = [Line("median", f"median of {curves.devices} devices"), *label_own_lines(own)]
        layers.append(line_layers.build_line_layer(data, named, y, x, tone))
    elif "median" in columns:
        layers.append(line_layers.build_median_layer(data, y, x, tone))
    layers += panel_layers.build_limit_layers(benchmark_db, f"benchmark {benchmark_db:g} dB", y, x, tone)
    read_out = [*((name, STATISTIC_LABELS[name]) for name in columns), *list_own_read_outs(own)]
    layers.append(panel_layers.build_pointer_layer(data, read_out, x, tone, "dB"))
    return layers


def _build_impedance_layers(
    curves: CurveSet,
    own: Sequence[OwnCurveRow],
    bands: Sequence[BandRow],
    x: FrequencyAxis,
    tone: Tone,
) -> list[Spec]:
    y: Spec = {"type": "quantitative", "title": "|Z|, R and X, ohm", "scale": {"zero": True, "nice": True}}
    given = (("z", curves.impedance_ohm), ("r", curves.resistance_ohm), ("x", curves.reactance_ohm))
    columns = {name: median for name, statistic in given if (median := statistic.get("median"))}
    shown = [line for line in IMPEDANCE_LINES if line.column in columns]
    data = line_layers.build_rows(curves.freq_hz, columns, digits=0)
    layers = panel_layers.build_band_layers(bands, x, tone)
    if shown:
        medians = line_layers.build_line_layer(data, shown, y, x, tone)
        if own:
            medians["mark"]["strokeWidth"] = HEAVY_STROKE
        layers.append(medians)
        layers += build_own_impedance_layers(own, shown, y, x, tone)
        read_out = [(line.column, f"median {line.label}") for line in shown]
        layers.append(panel_layers.build_pointer_layer(data, read_out, x, tone, "ohm"))
    return layers
