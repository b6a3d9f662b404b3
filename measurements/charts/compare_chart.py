"""Up to four designs side by side: the median rejection of each on one chart, over its 10 to 90 % range.

Lines are named by letters that the page explains, because titles are longer than a legend.
"""

from __future__ import annotations

from collections.abc import Sequence

from measurements.charts import line_layers, panel_layers
from measurements.charts.colours import PALETTES, Tone
from measurements.charts.line_layers import Line
from measurements.charts.panel_layers import FrequencyAxis, Scale, Spec
from measurements.selectors.evidence.design_curves import CurveSet
from measurements.selectors.reference.reference import BandRow

DESIGN_LETTERS = ("A", "B", "C", "D")
RANGE_OPACITY = 0.14  # four of them over each other still let the lines stand out


def build_compare_chart(
    curves: Sequence[CurveSet | None],
    bands: Sequence[BandRow],
    benchmark_db: float,
    *,
    scale: Scale = "log",
    tone: Tone = "light",
    width_px: int | None = 720,
) -> Spec:
    """Return a Vega-Lite specification; a design without published curves keeps its letter and has no line.

    curves: one per design, at most four, all on the evidence grid. Raises ValueError for more.
    """
    if len(curves) > len(DESIGN_LETTERS):
        raise ValueError("No more than four designs fit on one chart.")
    drawn = {
        letter: one
        for letter, one in zip(DESIGN_LETTERS, curves, strict=False)
        if one is not None and one.rejection_db["median"] is not None
    }
    x = FrequencyAxis(scale=scale)
    y: Spec = {"type": "quantitative", "title": "Rejection, dB", "scale": {"zero": True, "nice": True}}
    layers = panel_layers.build_band_layers(bands, x, tone)
    if drawn:
        data = _build_compare_rows(drawn)
        shown = [Line(letter, letter) for letter in drawn]
        for place, (letter, one) in enumerate(drawn.items()):
            if one.rejection_db["p10"] is not None:
                colour = PALETTES[tone].series[place]
                low, high = line_layers.LOW_COLUMN.format(letter), line_layers.HIGH_COLUMN.format(letter)
                layers.append(line_layers.build_area_layer(data, low, high, y, x, colour, RANGE_OPACITY))
        layers.append(line_layers.build_line_layer(data, shown, y, x, tone))
    layers += panel_layers.build_limit_layers(benchmark_db, f"benchmark {benchmark_db:g} dB", y, x, tone)
    if drawn:
        layers.append(panel_layers.build_pointer_layer(data, _list_read_outs(drawn), x, tone, "dB"))
    description = f"Median rejection of {len(drawn)} designs over frequency, benchmark {benchmark_db:g} dB."
    return panel_layers.build_specification(
        [panel_layers.build_panel(layers, "Rejection", width_px)], description, tone
    )


def _build_compare_rows(drawn: dict[str, CurveSet]) -> Spec:
    columns: dict[str, list[float | None]] = {}
    for letter, one in drawn.items():
        named = (
            (letter, "median"),
            (line_layers.LOW_COLUMN.format(letter), "p10"),
            (line_layers.HIGH_COLUMN.format(letter), "p90"),
        )
        columns |= {name: figures for name, of in named if (figures := one.rejection_db[of]) is not None}
    freq_hz = next(iter(drawn.values())).freq_hz
    return line_layers.build_rows(freq_hz, columns, digits=2)


def _list_read_outs(drawn: dict[str, CurveSet]) -> list[tuple[str, str]]:
    """Return columns and words of what the pointer reads out."""
    said = []
    for letter, one in drawn.items():
        said.append((letter, f"{letter} median"))
        if one.rejection_db["p10"] is not None:
            said.append((line_layers.LOW_COLUMN.format(letter), f"{letter} one in ten below"))
            said.append((line_layers.HIGH_COLUMN.format(letter), f"{letter} one in ten above"))
    return said
