"""The chart of a predicted winding: the middle device, eight in ten around it, and released evidence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from measurements.charts import line_layers, panel_layers
from measurements.charts.colours import Tone
from measurements.charts.line_layers import Line
from measurements.charts.panel_layers import FrequencyAxis, Scale, Spec
from measurements.selectors.evidence.design_curves import CurveSet
from measurements.selectors.predictions.rows import PredictionRow
from measurements.selectors.reference.reference import BandRow

View = Literal["rejection", "impedance"]
VIEWS: tuple[View, ...] = ("rejection", "impedance")
STATISTIC_LABELS = {"median": "middle", "p10": "one in ten below", "p90": "one in ten above"}


def build_prediction_chart(
    row: PredictionRow,
    bands: Sequence[BandRow],
    *,
    released: CurveSet | None = None,
    view: View = "rejection",
    scale: Scale = "log",
    tone: Tone = "light",
    width_px: int | None = None,
) -> Spec:
    """Return a Vega-Lite specification. released: curves of the design that this recipe is, where there are
    some.

    impedance: |Z| with its interval, and the middle R and X.
    """
    x = FrequencyAxis(
        panel_layers.convert_to_mhz(row.freq_hz[0]), panel_layers.convert_to_mhz(row.freq_hz[-1]), scale
    )
    layers = panel_layers.build_band_layers(bands, x, tone)
    if view == "rejection":
        layers += _build_rejection_layers(row, released, x, tone)
        title = "Rejection"
    else:
        layers += _build_impedance_layers(row, x, tone)
        title = "Impedance"
    description = (
        f"{row.title}, predicted: {title.lower()} over frequency, the middle device and the interval that "
        f"eight in "
        f"ten new devices are expected in, benchmark {row.benchmark_db:g} dB."
    )
    return panel_layers.build_specification(
        [panel_layers.build_panel(layers, title, width_px)], description, tone
    )


def _build_rejection_layers(
    row: PredictionRow, released: CurveSet | None, x: FrequencyAxis, tone: Tone
) -> list[Spec]:
    y: Spec = {"type": "quantitative", "title": "Rejection, dB", "scale": {"zero": True, "nice": True}}
    columns = dict(row.rejection_db)
    drawn = [Line("median", "predicted")]
    read_out = [(name, STATISTIC_LABELS[name]) for name in STATISTIC_LABELS]
    if released is not None and released.rejection_db["median"] is not None:
        seen = dict(zip(released.freq_hz, released.rejection_db["median"], strict=True))
        columns["released"] = [seen.get(freq) for freq in row.freq_hz]
        drawn.append(Line("released", f"median of {released.devices} released devices"))
        read_out.append(("released", "released median"))
    data = line_layers.build_rows(row.freq_hz, columns, 2)
    return [
        line_layers.build_range_layer(data, y, x, tone),
        line_layers.build_line_layer(data, drawn, y, x, tone),
        *panel_layers.build_limit_layers(row.benchmark_db, f"benchmark {row.benchmark_db:g} dB", y, x, tone),
        panel_layers.build_pointer_layer(data, read_out, x, tone, "dB"),
    ]


def _build_impedance_layers(row: PredictionRow, x: FrequencyAxis, tone: Tone) -> list[Spec]:
    y: Spec = {"type": "quantitative", "title": "|Z|, R and X, ohm", "scale": {"zero": True, "nice": True}}
    columns = {
        **{name: row.impedance_ohm[name] for name in ("p10", "p90")},
        "z": row.impedance_ohm["median"],
        "r": row.resistance_ohm["median"],
        "x": row.reactance_ohm["median"],
    }
    data = line_layers.build_rows(row.freq_hz, columns, 0)
    drawn = [Line("z", "|Z|"), Line("r", "R"), Line("x", "X")]
    read_out = [("z", "middle |Z|"), ("p10", "one in ten below"), ("p90", "one in ten above")]
    return [
        line_layers.build_range_layer(data, y, x, tone),
        line_layers.build_line_layer(data, drawn, y, x, tone),
        panel_layers.build_pointer_layer(data, [*read_out, ("r", "R"), ("x", "X")], x, tone, "ohm"),
    ]
