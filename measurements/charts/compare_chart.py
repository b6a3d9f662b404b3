"""Up to four designs side by side: the median rejection of each on one chart, over its 10 to 90 % range.

Lines are named by letters that the page explains, because titles are longer than a legend.
"""

from __future__ import annotations

from collections.abc import Sequence

from measurements.charts import line_layers, panel_layers
from measurements.charts.colours import PALETTES, Tone
from measurements.charts.line_layers import Line
from measurements.charts.panel_layers import FrequencyAxis, Scale, Spec
from measurements.selectors.evidence.design_curves import CurveSet, Statistic
from measurements.selectors.evidence.figure_curves import AnyCurveSet, LossCurveSet
from measurements.selectors.reference.reference import BandRow

DESIGN_LETTERS = ("A", "B", "C", "D")
RANGE_OPACITY = 0.14  # four of them over each other still let the lines stand out


def build_compare_chart(
    curves: Sequence[AnyCurveSet | None],
    bands: Sequence[BandRow],
    limit: float,
    *,
    scale: Scale = "log",
    tone: Tone = "light",
    width_px: int | None = 720,
) -> Spec:
    """Return a Vega-Lite specification; a design without published curves keeps its letter and has no line.

    curves: one per design, at most four, all of one kind and on the evidence grid. limit: in the unit of its
    metric. Raises ValueError for more.
    """
    if len(curves) > len(DESIGN_LETTERS):
        raise ValueError("No more than four designs fit on one chart.")
    drawn = {
        letter: get_judged_curve(one)
        for letter, one in zip(DESIGN_LETTERS, curves, strict=False)
        if one is not None and get_judged_curve(one)["median"] is not None
    }
    first = next((one for one in curves if one is not None), None)
    title, axis, unit, limit_name = _PANELS["common_mode" if first is None else first.kind]
    x = FrequencyAxis(scale=scale)
    ends: Spec = {"zero": True} if unit else {"zero": False, "domainMin": 1.0}
    y: Spec = {"type": "quantitative", "title": axis, "scale": {**ends, "nice": True}}
    layers = panel_layers.build_band_layers(bands, x, tone)
    if drawn:
        data = _build_compare_rows(first.freq_hz if first else (), drawn)
        shown = [Line(letter, letter) for letter in drawn]
        for place, (letter, one) in enumerate(drawn.items()):
            if one["p10"] is not None:
                colour = PALETTES[tone].series[place]
                low, high = line_layers.LOW_COLUMN.format(letter), line_layers.HIGH_COLUMN.format(letter)
                layers.append(line_layers.build_area_layer(data, low, high, y, x, colour, RANGE_OPACITY))
        layers.append(line_layers.build_line_layer(data, shown, y, x, tone))
    said = f"{limit_name} {limit:g} {unit}".strip()
    layers += panel_layers.build_limit_layers(limit, said, y, x, tone)
    if drawn:
        layers.append(panel_layers.build_pointer_layer(data, _list_read_outs(drawn), x, tone, unit))
    noun = title if title == "SWR" else title.lower()
    description = f"Median {noun} of {len(drawn)} designs over frequency, {said}."
    return panel_layers.build_specification(
        [panel_layers.build_panel(layers, title, width_px)], description, tone
    )


# kind -> title, axis, unit, and what its limit is called
_PANELS = {
    "common_mode": ("Rejection", "Rejection, dB", "dB", "benchmark"),
    "insertion_loss": ("Loss", "Loss, dB", "dB", "limit"),
    "load_match": ("SWR", "SWR", "", "limit"),
}


def get_judged_curve(curves: AnyCurveSet) -> Statistic:
    """Get the curve that a design is judged by."""
    if isinstance(curves, CurveSet):
        return curves.rejection_db
    return curves.loss_db if isinstance(curves, LossCurveSet) else curves.swr


def _build_compare_rows(freq_hz: Sequence[float], drawn: dict[str, Statistic]) -> Spec:
    columns: dict[str, list[float | None]] = {}
    for letter, one in drawn.items():
        named = (
            (letter, "median"),
            (line_layers.LOW_COLUMN.format(letter), "p10"),
            (line_layers.HIGH_COLUMN.format(letter), "p90"),
        )
        columns |= {name: figures for name, of in named if (figures := one[of]) is not None}
    return line_layers.build_rows(freq_hz, columns, digits=2)


def _list_read_outs(drawn: dict[str, Statistic]) -> list[tuple[str, str]]:
    """Return columns and words of what the pointer reads out."""
    said = []
    for letter, one in drawn.items():
        said.append((letter, f"{letter} median"))
        if one["p10"] is not None:
            said.append((line_layers.LOW_COLUMN.format(letter), f"{letter} one in ten below"))
            said.append((line_layers.HIGH_COLUMN.format(letter), f"{letter} one in ten above"))
    return said
