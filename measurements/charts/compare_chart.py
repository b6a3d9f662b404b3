"""Up to four designs side by side: the median rejection of each on one chart.

Lines are named by letters that the page explains, because titles are longer than a legend.
"""

from __future__ import annotations

from collections.abc import Sequence

from measurements.charts import lines, panel
from measurements.charts.lines import Line
from measurements.charts.panel import Spec
from measurements.charts.tones import Tone
from measurements.queries.rows import BandRow, CurveSet

LETTERS = ("A", "B", "C", "D")


def build(
    curves: Sequence[CurveSet | None],
    bands: Sequence[BandRow],
    benchmark_db: float,
    *,
    tone: Tone = "light",
    width_px: int | None = 720,
) -> Spec:
    """A Vega-Lite specification; a design without published curves keeps its letter and has no line.

    curves: one per design, at most four, all on the evidence grid. Raises ValueError for more.
    """
    if len(curves) > len(LETTERS):
        raise ValueError("No more than four designs fit on one chart.")
    medians = {
        letter: median
        for letter, one in zip(LETTERS, curves, strict=False)
        if one is not None and (median := one.rejection_db["median"]) is not None
    }
    freq_hz = next((one.freq_hz for one in curves if one is not None), ())
    shown = [Line(letter, letter) for letter in medians]
    span = panel.GRID_SPAN_MHZ
    y: Spec = {"type": "quantitative", "title": "Median rejection, dB", "scale": {"zero": True, "nice": True}}
    data = lines.rows(freq_hz, medians, digits=2)
    layers = panel.band_layers(bands, span, tone)
    if shown:
        layers.append(lines.layer(data, shown, y, span, tone))
    layers += panel.limit_layers(benchmark_db, f"benchmark {benchmark_db:g} dB", y, span, tone)
    if shown:
        layers.append(panel.pointer_layer(data, [(letter, letter) for letter in medians], span, tone))
    description = f"Median rejection of {len(medians)} designs over frequency, benchmark {benchmark_db:g} dB."
    return panel.framed([panel.view(layers, "Rejection", width_px)], description, tone)
