"""The floor of a night's jig per band against the benchmark: how much rejection it can show at all."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from measurements.charts import panel_layers
from measurements.charts.colours import PALETTES, Tone
from measurements.charts.panel_layers import Spec

BAND_PX = 22  # of a bar: bands stand below each other, so that their names fit on a phone
SHOWN_LABEL, HIDDEN_LABEL = "can be shown", "hidden by the jig"


def build_jig_chart(
    figures: Mapping[str, Any], *, tone: Tone = "light", width_px: int | None = 480
) -> Spec | None:
    """Return a bar per band: up to where readings can be believed, and from there to the floor itself.

    figures: of `rf.instruments.jig_check.assess_jig`. None where no band has a floor.
    """
    rows = [
        {
            "band": row["band"],
            "floor": panel_layers.round_figure(row["floor_db"], 1),
            "good": max(0.0, round(row["good_up_to_db"], 1)),
        }
        for row in figures.get("bands", ())
        if row["floor_db"] is not None
    ]
    if not rows:
        return None
    layers = [*_build_bars(rows, tone), *_build_limit_line(figures["benchmark_db"], tone)]
    worst = min(row["good"] for row in rows)
    drawn = {
        **panel_layers.build_panel(layers, "What the jig can show", width_px),
        "height": BAND_PX * len(rows),
    }
    words = f"Rejection that the jig can show on {len(rows)} bands: good up to {worst:g} dB on the worst."
    return panel_layers.build_specification([drawn], words, tone)


def _build_bars(rows: list[dict[str, Any]], tone: Tone) -> list[Spec]:
    data = {"values": rows}
    palette = PALETTES[tone]
    x = {"type": "quantitative", "title": "Rejection, dB", "scale": {"zero": True, "nice": True}}
    shared = {
        "y": {"field": "band", "type": "ordinal", "sort": None, "title": None},
        "tooltip": [
            {"field": "band", "type": "ordinal", "title": "Band"},
            {"field": "good", "type": "quantitative", "title": "Good up to, dB", "format": ".1f"},
            {"field": "floor", "type": "quantitative", "title": "Floor, dB", "format": ".1f"},
        ],
    }
    colour = {
        "field": "part",
        "type": "nominal",
        "scale": {"domain": [SHOWN_LABEL, HIDDEN_LABEL], "range": [palette.series[0], palette.shade]},
        "legend": {"symbolType": "square", "symbolStrokeWidth": 1},
    }
    hidden = {"type": "bar", "stroke": palette.faint, "strokeWidth": 1, "strokeDash": [3, 2]}
    return [
        {
            "data": data,
            "transform": [{"calculate": f"'{HIDDEN_LABEL}'", "as": "part"}],
            "mark": hidden,
            "encoding": {
                **shared,
                "x": {**x, "field": "good"},
                "x2": {"field": "floor"},
                "color": colour,
            },
        },
        {
            "data": data,
            "transform": [{"calculate": f"'{SHOWN_LABEL}'", "as": "part"}],
            "mark": {"type": "bar"},
            "encoding": {**shared, "x": {**x, "field": "good"}, "color": colour},
        },
    ]


def _build_limit_line(benchmark_db: float, tone: Tone) -> list[Spec]:
    """Return the benchmark as an upright line on a light edge, so that it shows on a bar; its words above."""
    data = {"values": [{"limit": benchmark_db, "label": f"benchmark {benchmark_db:g} dB"}]}
    palette = PALETTES[tone]
    x = {"field": "limit", "type": "quantitative"}
    rule = {"type": "rule", "tooltip": None}
    words = {
        "type": "text",
        "baseline": "bottom",
        "dy": -3,
        "fontSize": 12,
        "fontWeight": 600,
        "tooltip": None,
    }
    edge = {**rule, "strokeWidth": 5, "color": palette.ground}
    line = {**rule, "strokeWidth": 2, "strokeDash": [6, 3], "color": palette.limit}
    return [
        {"data": data, "mark": edge, "encoding": {"x": x}},
        {"data": data, "mark": line, "encoding": {"x": x}},
        {
            "data": data,
            "mark": {**words, "color": palette.limit},
            "encoding": {"x": x, "y": {"value": 0}, "text": {"field": "label"}},
        },
    ]
