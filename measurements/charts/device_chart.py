"""The chart of one device's curve over the range of its design's devices."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from measurements.charts import line_layers, panel_layers
from measurements.charts.colours import Tone
from measurements.charts.line_layers import Line
from measurements.charts.panel_layers import FrequencyAxis, Scale, Spec
from measurements.selectors.reference.reference import BandRow
from measurements.selectors.tests.comparison import CurveComparison

View = Literal["rejection", "impedance"]
VIEWS: tuple[View, ...] = ("rejection", "impedance")
TITLES = {"rejection": ("Rejection", "Rejection, dB"), "impedance": ("Impedance", "|Z|, ohm")}
DIGITS = {"rejection": 2, "impedance": 0}


def build_device_chart(
    both: CurveComparison,
    bands: Sequence[BandRow],
    *,
    view: View = "rejection",
    scale: Scale = "log",
    tone: Tone = "light",
    width_px: int | None = None,
) -> Spec | None:
    """Return a Vega-Lite specification; None where nothing is published of the design's curves."""
    statistic, own = {
        "rejection": (both.design.rejection_db, both.rejection_db),
        "impedance": (both.design.impedance_ohm, both.impedance_ohm),
    }[view]
    given = {"own": own, **{name: statistic.get(name) for name in ("median", "p10", "p90")}}
    columns = {name: figures for name, figures in given.items() if figures is not None}
    known = [
        f
        for index, f in enumerate(both.design.freq_hz)
        if any(c[index] is not None for c in columns.values())
    ]
    if "median" not in columns or len(known) < 2:
        return None
    x = FrequencyAxis(panel_layers.convert_to_mhz(known[0]), panel_layers.convert_to_mhz(known[-1]), scale)
    title, axis = TITLES[view]
    y: Spec = {"type": "quantitative", "title": axis, "scale": {"zero": True, "nice": True}}
    data = line_layers.build_rows(both.design.freq_hz, columns, DIGITS[view])
    layers = panel_layers.build_band_layers(bands, x, tone)
    if "p10" in columns and "p90" in columns:
        layers.append(line_layers.build_range_layer(data, y, x, tone))
    drawn = [Line("median", f"median of {both.design.devices} devices"), Line("own", "this device")]
    layers.append(line_layers.build_line_layer(data, drawn, y, x, tone))
    words = {"own": "this device", "median": "median", "p10": "one in ten below", "p90": "one in ten above"}
    layers.append(
        panel_layers.build_pointer_layer(
            data, [(name, words[name]) for name in columns], x, tone, panel_layers.parse_axis_unit(axis)
        )
    )
    description = f"{title} of this device over the median and the 10 to 90 % range of its design's devices."
    return panel_layers.build_specification(
        [panel_layers.build_panel(layers, title, width_px)], description, tone
    )
