"""The chart of a predicted winding: the middle device, eight in ten around it, and released evidence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from measurements.charts import lines, panel, percentiles
from measurements.charts.frequency_axis import FrequencyAxis, Scale
from measurements.charts.lines import Line
from measurements.charts.panel import Spec
from measurements.charts.tones import Tone
from measurements.queries.rows import BandRow, CurveSet
from measurements.queries.rows_of_predictions import PredictionRow

View = Literal["rejection", "impedance"]
VIEWS: tuple[View, ...] = ("rejection", "impedance")
LABELS = {"median": "middle", "p10": "one in ten below", "p90": "one in ten above"}


def build(
    row: PredictionRow,
    bands: Sequence[BandRow],
    *,
    released: CurveSet | None = None,
    view: View = "rejection",
    scale: Scale = "log",
    tone: Tone = "light",
    width_px: int | None = None,
) -> Spec:
    """A Vega-Lite specification. released: curves of the design that this recipe is, where there are some.

    impedance: |Z| with its interval, and the middle R and X.
    """
    x = FrequencyAxis(panel.mhz(row.freq_hz[0]), panel.mhz(row.freq_hz[-1]), scale)
    layers = panel.band_layers(bands, x, tone)
    if view == "rejection":
        layers += _rejection(row, released, x, tone)
        title = "Rejection"
    else:
        layers += _impedance(row, x, tone)
        title = "Impedance"
    description = (
        f"{row.title}, predicted: {title.lower()} over frequency, the middle device and the interval that "
        f"eight in "
        f"ten new devices are expected in, benchmark {row.benchmark_db:g} dB."
    )
    return panel.framed([panel.view(layers, title, width_px)], description, tone)


def _rejection(row: PredictionRow, released: CurveSet | None, x: FrequencyAxis, tone: Tone) -> list[Spec]:
    y: Spec = {"type": "quantitative", "title": "Rejection, dB", "scale": {"zero": True, "nice": True}}
    columns = dict(row.rejection_db)
    drawn = [Line("median", "predicted")]
    read_out = [(name, LABELS[name]) for name in LABELS]
    if released is not None and released.rejection_db["median"] is not None:
        seen = dict(zip(released.freq_hz, released.rejection_db["median"], strict=True))
        columns["released"] = [seen.get(freq) for freq in row.freq_hz]
        drawn.append(Line("released", f"median of {released.devices} released devices"))
        read_out.append(("released", "released median"))
    data = lines.rows(row.freq_hz, columns, 2)
    return [
        percentiles.range_layer(data, y, x, tone),
        lines.layer(data, drawn, y, x, tone),
        *panel.limit_layers(row.benchmark_db, f"benchmark {row.benchmark_db:g} dB", y, x, tone),
        panel.pointer_layer(data, read_out, x, tone, "dB"),
    ]


def _impedance(row: PredictionRow, x: FrequencyAxis, tone: Tone) -> list[Spec]:
    y: Spec = {"type": "quantitative", "title": "|Z|, R and X, ohm", "scale": {"zero": True, "nice": True}}
    columns = {
        **{name: row.impedance_ohm[name] for name in ("p10", "p90")},
        "z": row.impedance_ohm["median"],
        "r": row.resistance_ohm["median"],
        "x": row.reactance_ohm["median"],
    }
    data = lines.rows(row.freq_hz, columns, 0)
    drawn = [Line("z", "|Z|"), Line("r", "R"), Line("x", "X")]
    read_out = [("z", "middle |Z|"), ("p10", "one in ten below"), ("p90", "one in ten above")]
    return [
        percentiles.range_layer(data, y, x, tone),
        lines.layer(data, drawn, y, x, tone),
        panel.pointer_layer(data, [*read_out, ("r", "R"), ("x", "X")], x, tone, "ohm"),
    ]
