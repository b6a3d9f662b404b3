"""The chart of one device's curve over the range of its design's devices."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from measurements.charts import lines, panel, percentiles
from measurements.charts.frequency_axis import FrequencyAxis, Scale
from measurements.charts.lines import Line
from measurements.charts.panel import Spec
from measurements.charts.tones import Tone
from measurements.queries.diagnosis import Beside
from measurements.queries.rows import BandRow

View = Literal["rejection", "impedance"]
VIEWS: tuple[View, ...] = ("rejection", "impedance")
TITLES = {"rejection": ("Rejection", "Rejection, dB"), "impedance": ("Impedance", "|Z|, ohm")}
DIGITS = {"rejection": 2, "impedance": 0}


def build(
    both: Beside,
    bands: Sequence[BandRow],
    *,
    view: View = "rejection",
    scale: Scale = "log",
    tone: Tone = "light",
    width_px: int | None = None,
) -> Spec | None:
    """A Vega-Lite specification; None where nothing is published of the design's curves."""
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
    x = FrequencyAxis(panel.mhz(known[0]), panel.mhz(known[-1]), scale)
    title, axis = TITLES[view]
    y: Spec = {"type": "quantitative", "title": axis, "scale": {"zero": True, "nice": True}}
    data = lines.rows(both.design.freq_hz, columns, DIGITS[view])
    layers = panel.band_layers(bands, x, tone)
    if "p10" in columns and "p90" in columns:
        layers.append(percentiles.range_layer(data, y, x, tone))
    drawn = [Line("median", f"median of {both.design.devices} devices"), Line("own", "this device")]
    layers.append(lines.layer(data, drawn, y, x, tone))
    words = {"own": "this device", "median": "median", "p10": "one in ten below", "p90": "one in ten above"}
    layers.append(
        panel.pointer_layer(data, [(name, words[name]) for name in columns], x, tone, panel.unit_of(axis))
    )
    description = f"{title} of this device over the median and the 10 to 90 % range of its design's devices."
    return panel.framed([panel.view(layers, title, width_px)], description, tone)
