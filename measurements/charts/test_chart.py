"""The chart of one test: the curves of its kind over the sweep, with bands and the limit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from measurements.charts import line_layers, panel_layers
from measurements.charts.colours import Tone
from measurements.charts.line_layers import Line
from measurements.charts.panel_layers import FrequencyAxis, Scale, Spec
from measurements.selectors.reference.reference import BandRow

# Which panels a kind of test is drawn in: a table, one row per panel.


@dataclass(frozen=True)
class KindPanel:
    """One panel. limit: the key of the result's summary that holds the limit; 'limit_words' names it.

    digits: decimals that are drawn. zero: whether the axis starts at nothing. most: where the axis ends, and
    where larger figures are drawn.
    """

    name: str
    title: str
    axis: str
    lines: tuple[Line, ...]
    digits: int = 2
    limit: str | None = None
    limit_words: str = ""
    zero: bool = True
    most: float | None = None


MOST_SWR = 10.0  # house default: a worse one is drawn at the end of the axis

_SWR_PANEL = KindPanel(
    "swr",
    "SWR at the input",
    "SWR",
    (Line("swr", "SWR"),),
    limit="swr_limit",
    limit_words="limit {:g}",
    zero=False,
    most=MOST_SWR,
)

_INPUT_PANEL = KindPanel(
    "input",
    "Input impedance",
    "R and X, ohm",
    (Line("resistance_ohm", "R"), Line("reactance_ohm", "X")),
    digits=1,
)

KIND_PANELS: dict[str, tuple[KindPanel, ...]] = {
    "common_mode": (
        KindPanel(
            "rejection",
            "Rejection",
            "Rejection, dB",
            (Line("rejection_db", "rejection"),),
            limit="benchmark_db",
            limit_words="benchmark {:g} dB",
        ),
        KindPanel(
            "impedance",
            "Common-mode impedance",
            "|Z|, R and X, ohm",
            (Line("impedance_ohm", "|Z|"), Line("resistance_ohm", "R"), Line("reactance_ohm", "X")),
            digits=0,
        ),
    ),
    "load_match": (_SWR_PANEL, _INPUT_PANEL),
    "insertion_loss": (
        KindPanel(
            "loss",
            "Insertion loss and where it goes",
            "Loss, dB",
            (
                Line("loss_db", "loss"),
                Line("dissipative_db", "turned to heat"),
                Line("mismatch_db", "reflected"),
                Line("halved_db", "half the pair"),
            ),
            digits=3,
            limit="loss_limit_db",
            limit_words="limit {:g} dB",
        ),
    ),
    "balance": (
        KindPanel(
            "amplitude",
            "Amplitude imbalance",
            "Imbalance, dB",
            (Line("amplitude_imbalance_db", "imbalance"),),
            limit="amplitude_limit_db",
            limit_words="limit {:g} dB",
        ),
        KindPanel(
            "phase",
            "Phase imbalance",
            "Imbalance, degrees",
            (Line("phase_imbalance_deg", "imbalance"),),
            limit="phase_limit_deg",
            limit_words="limit {:g} degrees",
        ),
        KindPanel("cmrr", "Common-mode rejection ratio", "CMRR, dB", (Line("cmrr_db", "CMRR"),)),
    ),
    "dc": (),
    "in_situ": (
        KindPanel(
            "swr",
            "SWR at the feed point",
            "SWR",
            (Line("swr_through", "through the device"), Line("swr_bypassed", "bypassed by a jumper")),
            zero=False,
            most=MOST_SWR,
        ),
    ),
}

WIDTH_PX = 720

MAX_POINTS = 801


def list_panels(kind: str, traces: Mapping[str, Any]) -> tuple[KindPanel, ...]:
    """Return the panels of `kind` that these traces have anything for."""
    return tuple(
        candidate
        for candidate in KIND_PANELS[kind]
        if any(_has_figures(traces.get(line.column)) for line in candidate.lines)
    )


def build_test_chart(
    test: Any,
    traces: Mapping[str, Any],
    bands: Sequence[BandRow],
    *,
    view: str = "all",
    scale: Scale = "log",
    tone: Tone = "light",
    width_px: int | None = WIDTH_PX,
) -> Spec | None:
    """Return a Vega-Lite specification, or None where there is nothing to draw (readings, unknown view).

    test: a TestRow, or anything with `kind` and `result`, such as a result not stored yet.
    traces: {"freq_hz": F numbers, name: F numbers or None}. view: a panel's name or "all".
    """
    freq_hz = list(traces.get("freq_hz", ()))
    chosen = [candidate for candidate in list_panels(test.kind, traces) if view in ("all", candidate.name)]
    if len(freq_hz) < 2 or not chosen:
        return None
    step = -(-len(freq_hz) // MAX_POINTS)
    thin = {
        name: replace_non_finite(figures)[::step] for name, figures in traces.items() if figures is not None
    }
    x = FrequencyAxis(
        panel_layers.convert_to_mhz(min(freq_hz)), panel_layers.convert_to_mhz(max(freq_hz)), scale
    )
    summary = test.result.get("summary", {})
    views_drawn = [_build_kind_panel(each, thin, summary, bands, x, tone, width_px) for each in chosen]
    titles = ", ".join(each.title.lower() for each in chosen)
    description = f"{titles} from {x.low_mhz:g} to {x.high_mhz:g} MHz, {len(freq_hz)} points."
    return panel_layers.build_specification(views_drawn, description[0].upper() + description[1:], tone)


def _build_kind_panel(
    shown: KindPanel,
    traces: Mapping[str, list[float | None]],
    summary: Mapping[str, Any],
    bands: Sequence[BandRow],
    x: FrequencyAxis,
    tone: Tone,
    width_px: int | None,
) -> Spec:
    y: Spec = {
        "type": "quantitative",
        "title": shown.axis,
        "scale": {"zero": shown.zero, "nice": True},
    }
    if shown.most is not None:
        y["scale"]["domainMax"] = shown.most
        y["title"] = f"{shown.axis}, over {shown.most:g} drawn at {shown.most:g}"
    drawn = [line for line in shown.lines if _has_figures(traces.get(line.column))]
    columns = {line.column: _end_at(shown.most, traces[line.column]) for line in drawn}
    data = line_layers.build_rows([f for f in traces["freq_hz"] if f is not None], columns, shown.digits)
    layers = panel_layers.build_band_layers(bands, x, tone)
    layers.append(line_layers.build_line_layer(data, drawn, y, x, tone))
    limit = summary.get(shown.limit) if shown.limit else None
    if limit is not None:
        layers += panel_layers.build_limit_layers(limit, shown.limit_words.format(limit), y, x, tone)
    read_out = [(line.column, line.label) for line in drawn]
    layers.append(
        panel_layers.build_pointer_layer(data, read_out, x, tone, panel_layers.parse_axis_unit(shown.axis))
    )
    return panel_layers.build_panel(layers, shown.title, width_px)


def _end_at(most: float | None, figures: list[float | None]) -> list[float | None]:
    """Draw what is larger than the end of the axis at its end."""
    if most is None:
        return figures
    return [None if each is None else min(each, most) for each in figures]


def replace_non_finite(figures: Any) -> list[float | None]:
    """Return numbers as JSON needs them: what is not finite becomes None, a gap in the curve."""
    listed = figures.tolist() if hasattr(figures, "tolist") else list(figures)
    return [None if each is None or each != each or abs(each) == float("inf") else each for each in listed]


def _has_figures(figures: Any) -> bool:
    return figures is not None and any(each is not None for each in replace_non_finite(figures))
