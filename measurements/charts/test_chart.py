"""The chart of one test: the curves of its kind over the sweep, with bands and the limit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from measurements.charts import lines, panel
from measurements.charts.frequency_axis import FrequencyAxis, Scale
from measurements.charts.kind_panels import PANELS, Panel
from measurements.charts.panel import Spec
from measurements.charts.tones import Tone
from measurements.queries.rows import BandRow

WIDTH_PX = 720
MOST_POINTS = 801


def views(kind: str, traces: Mapping[str, Any]) -> tuple[Panel, ...]:
    """The panels of `kind` that these traces have anything for."""
    return tuple(
        candidate
        for candidate in PANELS[kind]
        if any(_has_figures(traces.get(line.column)) for line in candidate.lines)
    )


def build(
    test: Any,
    traces: Mapping[str, Any],
    bands: Sequence[BandRow],
    *,
    view: str = "all",
    scale: Scale = "log",
    tone: Tone = "light",
    width_px: int | None = WIDTH_PX,
) -> Spec | None:
    """A Vega-Lite specification, or None where there is nothing to draw (readings, unknown view).

    test: a TestRow, or anything with `kind` and `result`, such as a result not stored yet.
    traces: {"freq_hz": F numbers, name: F numbers or None}. view: a panel's name or "all".
    """
    freq_hz = list(traces.get("freq_hz", ()))
    chosen = [candidate for candidate in views(test.kind, traces) if view in ("all", candidate.name)]
    if len(freq_hz) < 2 or not chosen:
        return None
    step = -(-len(freq_hz) // MOST_POINTS)
    thin = {name: plain(figures)[::step] for name, figures in traces.items() if figures is not None}
    x = FrequencyAxis(panel.mhz(min(freq_hz)), panel.mhz(max(freq_hz)), scale)
    summary = test.result.get("summary", {})
    views_drawn = [_panel(each, thin, summary, bands, x, tone, width_px) for each in chosen]
    titles = ", ".join(each.title.lower() for each in chosen)
    description = f"{titles} from {x.low_mhz:g} to {x.high_mhz:g} MHz, {len(freq_hz)} points."
    return panel.framed(views_drawn, description[0].upper() + description[1:], tone)


def _panel(
    shown: Panel,
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
    drawn = [line for line in shown.lines if _has_figures(traces.get(line.column))]
    columns = {line.column: traces[line.column] for line in drawn}
    data = lines.rows([f for f in traces["freq_hz"] if f is not None], columns, shown.digits)
    layers = panel.band_layers(bands, x, tone)
    layers.append(lines.layer(data, drawn, y, x, tone))
    limit = summary.get(shown.limit) if shown.limit else None
    if limit is not None:
        layers += panel.limit_layers(limit, shown.limit_words.format(limit), y, x, tone)
    read_out = [(line.column, line.label) for line in drawn]
    layers.append(panel.pointer_layer(data, read_out, x, tone, panel.unit_of(shown.axis)))
    return panel.view(layers, shown.title, width_px)


def plain(figures: Any) -> list[float | None]:
    """Numbers as JSON needs them: what is not finite becomes None, a gap in the curve."""
    listed = figures.tolist() if hasattr(figures, "tolist") else list(figures)
    return [None if each is None or each != each or abs(each) == float("inf") else each for each in listed]


def _has_figures(figures: Any) -> bool:
    return figures is not None and any(each is not None for each in plain(figures))
