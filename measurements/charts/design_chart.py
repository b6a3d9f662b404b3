"""The chart of a design: median and 10-90 % range of its devices' curves, with bands and benchmark.

What a circle may not see is not in the `CurveSet`, so it cannot get into the specification.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from measurements.charts import lines, panel, percentiles
from measurements.charts.lines import Line
from measurements.charts.panel import Spec
from measurements.charts.tones import PALETTES, Tone
from measurements.queries.rows import BandRow, CurveSet, DesignRow

View = Literal["both", "rejection", "impedance"]
VIEWS: tuple[View, ...] = ("both", "rejection", "impedance")

MOST_SAMPLES = 40  # thin enough to read, small enough to load over a bench's phone
WIDTH_PX = 720

IMPEDANCE_LINES = (
    Line("z", "|Z|"),
    Line("r", "R"),
    Line("x", "X"),
)


def build(
    design: DesignRow,
    curves: CurveSet,
    bands: Sequence[BandRow],
    benchmark_db: float,
    *,
    view: View = "both",
    tone: Tone = "light",
    width_px: int | None = WIDTH_PX,
) -> Spec:
    """A Vega-Lite specification, at most about 150 kB whatever the evidence.

    view: which panel, or both below each other (then `width_px` must be a number).
    """
    span = panel.GRID_SPAN_MHZ
    panels = []
    if view in ("both", "rejection"):
        panels.append(_rejection(curves, bands, benchmark_db, span, tone, width_px))
    if view in ("both", "impedance"):
        panels.append(_impedance(curves, bands, span, tone, width_px))
    description = (
        f"{design.title}: common-mode rejection and impedance over frequency, "
        f"{curves.devices} devices, benchmark {benchmark_db:g} dB."
    )
    return panel.framed(panels, description, tone)


def _rejection(
    curves: CurveSet,
    bands: Sequence[BandRow],
    benchmark_db: float,
    span: tuple[float, float],
    tone: Tone,
    width_px: int | None,
) -> Spec:
    y: Spec = {"type": "quantitative", "title": "Rejection, dB", "scale": {"zero": True, "nice": True}}
    columns = {
        name: figures for name in ("median", "p10", "p90") if (figures := curves.rejection_db.get(name))
    }
    data = lines.rows(curves.freq_hz, columns, digits=2)
    labels = {"median": "median", "p10": "10 % of devices below", "p90": "10 % of devices above"}
    layers = panel.band_layers(bands, span, tone)
    if "p10" in columns and "p90" in columns:
        layers.append(percentiles.range_layer(data, y, span, tone))
    if curves.samples:
        layers.append(_sample_layer(curves, y, span, tone))
    if "median" in columns:
        layers.append(percentiles.median_layer(data, y, span, tone))
    layers += panel.limit_layers(benchmark_db, f"benchmark {benchmark_db:g} dB", y, span, tone)
    layers.append(panel.pointer_layer(data, [(name, labels[name]) for name in columns], span, tone))
    return panel.view(layers, "Rejection", width_px)


def _sample_layer(curves: CurveSet, y: Spec, span: tuple[float, float], tone: Tone) -> Spec:
    columns = {f"s{index}": curve for index, curve in enumerate(curves.samples[:MOST_SAMPLES])}
    return {
        "data": lines.rows(curves.freq_hz, columns, digits=1),
        "transform": [{"fold": list(columns), "as": ["sample", "figure"]}],
        "mark": {
            "type": "line",
            "strokeWidth": 0.8,
            "opacity": 0.3,
            "color": PALETTES[tone].faint,
            "clip": True,
            "tooltip": None,
        },
        "encoding": {
            "x": panel.x_axis(span),
            "y": {**y, "field": "figure"},
            "detail": {"field": "sample", "type": "nominal"},
        },
    }


def _impedance(
    curves: CurveSet,
    bands: Sequence[BandRow],
    span: tuple[float, float],
    tone: Tone,
    width_px: int | None,
) -> Spec:
    y: Spec = {"type": "quantitative", "title": "Ohm", "scale": {"zero": True, "nice": True}}
    given = (("z", curves.impedance_ohm), ("r", curves.resistance_ohm), ("x", curves.reactance_ohm))
    columns = {name: median for name, statistic in given if (median := statistic.get("median"))}
    shown = [line for line in IMPEDANCE_LINES if line.column in columns]
    data = lines.rows(curves.freq_hz, columns, digits=0)
    layers = panel.band_layers(bands, span, tone)
    if shown:
        layers.append(lines.layer(data, shown, y, span, tone))
        read_out = [(line.column, f"median {line.label}, ohm") for line in shown]
        layers.append(panel.pointer_layer(data, read_out, span, tone))
    return panel.view(layers, "Impedance", width_px)
