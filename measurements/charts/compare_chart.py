"""Up to four designs side by side: the median rejection of each on one chart, over its 10 to 90 % range.

Lines are named by letters that the page explains, because titles are longer than a legend.
"""

from __future__ import annotations

from collections.abc import Sequence

from measurements.charts import lines, panel, percentiles
from measurements.charts.frequency_axis import FrequencyAxis, Scale
from measurements.charts.lines import Line
from measurements.charts.panel import Spec
from measurements.charts.tones import PALETTES, Tone
from measurements.queries.rows import BandRow, CurveSet

LETTERS = ("A", "B", "C", "D")
RANGE_OPACITY = 0.14  # four of them over each other still let the lines stand out


def build(
    curves: Sequence[CurveSet | None],
    bands: Sequence[BandRow],
    benchmark_db: float,
    *,
    scale: Scale = "log",
    tone: Tone = "light",
    width_px: int | None = 720,
) -> Spec:
    """A Vega-Lite specification; a design without published curves keeps its letter and has no line.

    curves: one per design, at most four, all on the evidence grid. Raises ValueError for more.
    """
    if len(curves) > len(LETTERS):
        raise ValueError("No more than four designs fit on one chart.")
    drawn = {
        letter: one
        for letter, one in zip(LETTERS, curves, strict=False)
        if one is not None and one.rejection_db["median"] is not None
    }
    x = FrequencyAxis(scale=scale)
    y: Spec = {"type": "quantitative", "title": "Rejection, dB", "scale": {"zero": True, "nice": True}}
    layers = panel.band_layers(bands, x, tone)
    if drawn:
        data = _rows(drawn)
        shown = [Line(letter, letter) for letter in drawn]
        for place, (letter, one) in enumerate(drawn.items()):
            if one.rejection_db["p10"] is not None:
                colour = PALETTES[tone].series[place]
                low, high = percentiles.LOW.format(letter), percentiles.HIGH.format(letter)
                layers.append(percentiles.area(data, low, high, y, x, colour, RANGE_OPACITY))
        layers.append(lines.layer(data, shown, y, x, tone))
    layers += panel.limit_layers(benchmark_db, f"benchmark {benchmark_db:g} dB", y, x, tone)
    if drawn:
        layers.append(panel.pointer_layer(data, _read_out(drawn), x, tone, "dB"))
    description = f"Median rejection of {len(drawn)} designs over frequency, benchmark {benchmark_db:g} dB."
    return panel.framed([panel.view(layers, "Rejection", width_px)], description, tone)


def _rows(drawn: dict[str, CurveSet]) -> Spec:
    columns: dict[str, list[float | None]] = {}
    for letter, one in drawn.items():
        named = (
            (letter, "median"),
            (percentiles.LOW.format(letter), "p10"),
            (percentiles.HIGH.format(letter), "p90"),
        )
        columns |= {name: figures for name, of in named if (figures := one.rejection_db[of]) is not None}
    freq_hz = next(iter(drawn.values())).freq_hz
    return lines.rows(freq_hz, columns, digits=2)


def _read_out(drawn: dict[str, CurveSet]) -> list[tuple[str, str]]:
    """Columns and words of what the pointer reads out."""
    said = []
    for letter, one in drawn.items():
        said.append((letter, f"{letter} median"))
        if one.rejection_db["p10"] is not None:
            said.append((percentiles.LOW.format(letter), f"{letter} one in ten below"))
            said.append((percentiles.HIGH.format(letter), f"{letter} one in ten above"))
    return said
