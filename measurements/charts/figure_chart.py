"""The charts of loss and match of a design: median and 10-90 % range, with bands and the group's limit.

The loss is split into mismatch and heat, and a panel of its own says how much of every 100 W becomes heat.
It comes from sweeps at milliwatts, so the description says that it is no power rating.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from measurements.charts import design_chart, line_layers, panel_layers
from measurements.charts.colours import Tone
from measurements.charts.design_chart import STATISTIC_LABELS, WIDTH_PX
from measurements.charts.line_layers import Line
from measurements.charts.panel_layers import FrequencyAxis, Scale, Spec
from measurements.selectors.designs.rows import DesignRow
from measurements.selectors.evidence.design_curves import CurveSet, OwnCurveRow, Statistic
from measurements.selectors.evidence.figure_curves import AnyCurveSet, LossCurveSet, MatchCurveSet
from measurements.selectors.reference.reference import BandRow

# the panels that each kind has, the one that is shown first at their head
VIEWS_OF_KIND: dict[str, tuple[str, ...]] = {
    "common_mode": ("rejection", "impedance", "both"),
    "insertion_loss": ("loss", "heat", "both"),
    "load_match": ("swr",),
}

NO_RATING = "Swept at milliwatts: no power rating."

SPLIT_LINES = (Line("median", "loss, median"), Line("mismatch", "of it mismatch"), Line("heat", "of it heat"))


def build_chart_of_kind(
    design: DesignRow,
    curves: AnyCurveSet,
    bands: Sequence[BandRow],
    limit: float,
    *,
    own: Sequence[OwnCurveRow] = (),
    view: str = "both",
    scale: Scale = "log",
    tone: Tone = "light",
    width_px: int | None = WIDTH_PX,
) -> Spec:
    """Return the chart of whatever kind the curves are. limit: benchmark in dB, largest loss in dB, or SWR.

    own: the reader's own devices, over a rejection alone. view: of loss `loss` or `heat`, of rejection as in
    `design_chart.VIEWS`; `both` is all that there is.
    """
    if isinstance(curves, CurveSet):
        shown = next((each for each in design_chart.VIEWS if each == view), "both")
        return design_chart.build_design_chart(
            design, curves, bands, limit, own=own, view=shown, scale=scale, tone=tone, width_px=width_px
        )
    x = FrequencyAxis(scale=scale)
    if isinstance(curves, MatchCurveSet):
        layers = _build_match_layers(curves, bands, limit, x, tone)
        panel = panel_layers.build_panel(layers, "SWR", width_px)
        said = (
            f"{design.title}: SWR in its nominal load over frequency, {curves.devices} devices, "
            f"limit {limit:g}."
        )
        return panel_layers.build_specification([panel], said, tone)
    panels = []
    if view != "heat":
        panels.append(
            panel_layers.build_panel(_build_loss_layers(curves, bands, limit, x, tone), "Loss", width_px)
        )
    if view != "loss" and curves.heat_w_per_100_w is not None:
        layers = _build_heat_layers(curves.freq_hz, curves.heat_w_per_100_w, bands, x, tone)
        panels.append(panel_layers.build_panel(layers, "Heat of every 100 W", width_px))
    said = (
        f"{design.title}: loss over frequency, and what of it is mismatch and heat, "
        f"{curves.devices} devices, limit {limit:g} dB. {NO_RATING}"
    )
    return panel_layers.build_specification(panels, said, tone)


def _build_loss_layers(
    curves: LossCurveSet, bands: Sequence[BandRow], limit: float, x: FrequencyAxis, tone: Tone
) -> list[Spec]:
    y: Spec = {"type": "quantitative", "title": "Loss, dB", "scale": {"zero": True, "nice": True}}
    columns = _list_columns(curves.loss_db)
    for name, statistic in (("mismatch", curves.mismatch_db), ("heat", curves.dissipative_db)):
        median = (statistic or {}).get("median")
        if median:
            columns[name] = median
    shown = [line for line in SPLIT_LINES if line.column in columns]
    return _build_layers(
        curves.freq_hz, columns, shown, y, bands, (limit, f"limit {limit:g} dB"), x, tone, "dB"
    )


def _build_heat_layers(
    freq_hz: Sequence[float], heat_w: Statistic, bands: Sequence[BandRow], x: FrequencyAxis, tone: Tone
) -> list[Spec]:
    y: Spec = {"type": "quantitative", "title": "Heat at 100 W, W", "scale": {"zero": True, "nice": True}}
    columns = _list_columns(heat_w)
    return _build_layers(freq_hz, columns, (), y, bands, None, x, tone, "W")


def _build_match_layers(
    curves: MatchCurveSet, bands: Sequence[BandRow], limit: float, x: FrequencyAxis, tone: Tone
) -> list[Spec]:
    # an SWR begins at 1; a point above 5 says only that it is far off
    y: Spec = {
        "type": "quantitative",
        "title": "SWR",
        "scale": {"domainMin": 1.0, "zero": False, "nice": True},
    }
    columns = _list_columns(curves.swr)
    return _build_layers(curves.freq_hz, columns, (), y, bands, (limit, f"limit {limit:g}"), x, tone, "")


def _list_columns(statistic: Statistic) -> dict[str, list[float | None]]:
    return {name: figures for name in STATISTIC_LABELS if (figures := statistic.get(name))}


def _build_layers(
    freq_hz: Sequence[float],
    columns: Mapping[str, list[float | None]],
    shown: Sequence[Line],
    y: Spec,
    bands: Sequence[BandRow],
    limit: tuple[float, str] | None,
    x: FrequencyAxis,
    tone: Tone,
    unit: str,
) -> list[Spec]:
    """Build bands, range, lines, limit and read-out. shown: the lines; under two: the median alone."""
    data = line_layers.build_rows(freq_hz, columns, digits=3)
    layers = panel_layers.build_band_layers(bands, x, tone)
    if "p10" in columns and "p90" in columns:
        layers.append(line_layers.build_range_layer(data, y, x, tone))
    if len(shown) > 1:
        layers.append(line_layers.build_line_layer(data, shown, y, x, tone))
    elif "median" in columns:
        layers.append(line_layers.build_median_layer(data, y, x, tone))
    if limit is not None:
        layers += panel_layers.build_limit_layers(*limit, y, x, tone)
    names = STATISTIC_LABELS | {line.column: line.label for line in shown}
    layers.append(
        panel_layers.build_pointer_layer(data, [(name, names[name]) for name in columns], x, tone, unit)
    )
    return layers
