"""The chart of a design: median and 10-90 % range of its devices' curves, with bands and benchmark.

What a circle may not see is not in the `CurveSet`, so it cannot get into the specification.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from measurements.charts import lines, own_lines, panel, percentiles
from measurements.charts.frequency_axis import FrequencyAxis, Scale
from measurements.charts.lines import Line
from measurements.charts.panel import Spec
from measurements.charts.tones import PALETTES, Tone
from measurements.queries.rows import BandRow, CurveSet, DesignRow, OwnCurveRow

View = Literal["both", "rejection", "impedance"]
VIEWS: tuple[View, ...] = ("both", "rejection", "impedance")

MOST_SAMPLES = 40  # thin enough to read, small enough to load over a bench's phone
WIDTH_PX = 720

IMPEDANCE_LINES = (
    Line("z", "|Z|"),
    Line("r", "R"),
    Line("x", "X"),
)
LABELS = {"median": "median", "p10": "one in ten below", "p90": "one in ten above"}


def build(
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
    """A Vega-Lite specification, at most about 150 kB whatever the evidence.

    own: the reader's own devices, drawn over it; such a chart is theirs alone. view: which panel, or both
    below each other (then `width_px` must be a number).
    """
    x = FrequencyAxis(scale=scale)
    panels = []
    if view in ("both", "rejection"):
        layers = _rejection(curves, own, bands, benchmark_db, x, tone)
        panels.append(panel.view(layers, "Rejection", width_px))
    if view in ("both", "impedance"):
        panels.append(panel.view(_impedance(curves, own, bands, x, tone), "Impedance", width_px))
    description = (
        f"{design.title}: common-mode rejection and impedance over frequency, "
        f"{curves.devices} devices, benchmark {benchmark_db:g} dB."
    )
    return panel.framed(panels, description, tone)


def _rejection(
    curves: CurveSet,
    own: Sequence[OwnCurveRow],
    bands: Sequence[BandRow],
    benchmark_db: float,
    x: FrequencyAxis,
    tone: Tone,
) -> list[Spec]:
    y: Spec = {"type": "quantitative", "title": "Rejection, dB", "scale": {"zero": True, "nice": True}}
    columns = {name: figures for name in LABELS if (figures := curves.rejection_db.get(name))}
    mine = own_lines.columns(own)
    data = lines.rows(curves.freq_hz, {**columns, **mine}, digits=2)
    layers = panel.band_layers(bands, x, tone)
    if "p10" in columns and "p90" in columns:
        layers.append(percentiles.range_layer(data, y, x, tone))
    if curves.samples:
        layers.append(_sample_layer(curves, y, x, tone))
    if mine and "median" in columns:
        named = [Line("median", f"median of {curves.devices} devices"), *own_lines.named(own)]
        layers.append(lines.layer(data, named, y, x, tone))
    elif "median" in columns:
        layers.append(percentiles.median_layer(data, y, x, tone))
    layers += panel.limit_layers(benchmark_db, f"benchmark {benchmark_db:g} dB", y, x, tone)
    read_out = [*((name, LABELS[name]) for name in columns), *own_lines.read_out(own)]
    layers.append(panel.pointer_layer(data, read_out, x, tone, "dB"))
    return layers


def _sample_layer(curves: CurveSet, y: Spec, x: FrequencyAxis, tone: Tone) -> Spec:
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
            "x": x.encoding(),
            "y": {**y, "field": "figure"},
            "detail": {"field": "sample", "type": "nominal"},
        },
    }


def _impedance(
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
    data = lines.rows(curves.freq_hz, columns, digits=0)
    layers = panel.band_layers(bands, x, tone)
    if shown:
        medians = lines.layer(data, shown, y, x, tone)
        if own:
            medians["mark"]["strokeWidth"] = own_lines.HEAVY
        layers.append(medians)
        layers += own_lines.impedance_layers(own, shown, y, x, tone)
        read_out = [(line.column, f"median {line.label}") for line in shown]
        layers.append(panel.pointer_layer(data, read_out, x, tone, "ohm"))
    return layers
