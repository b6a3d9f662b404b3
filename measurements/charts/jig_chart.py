"""The floor of a night's jig per band against the benchmark: how much rejection it can show at all."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from measurements.charts import panel
from measurements.charts.panel import Spec
from measurements.charts.tones import PALETTES, Tone

HEIGHT_PX = 220
_LEGEND = ("hidden: within 10 dB of the floor", "can be shown")


def build(figures: Mapping[str, Any], *, tone: Tone = "light", width_px: int | None = 480) -> Spec | None:
    """A bar per band: up to where readings can be believed, and from there to the floor itself.

    figures: of `rf.jig_check.of_jig`. None where no band has a floor.
    """
    rows = [
        {
            "band": row["band"],
            "floor": panel.rounded(row["floor_db"], 1),
            "good": max(0.0, round(row["good_up_to_db"], 1)),
        }
        for row in figures.get("bands", ())
        if row["floor_db"] is not None
    ]
    if not rows:
        return None
    layers = [*_bars(rows, tone), *_limit(figures["benchmark_db"], rows[0]["band"], tone)]
    worst = min(row["good"] for row in rows)
    drawn = {**panel.view(layers, "What the jig can show", width_px), "height": HEIGHT_PX}
    words = f"Rejection that the jig can show on {len(rows)} bands: good up to {worst:g} dB on the worst."
    return panel.framed([drawn], words, tone)


def _bars(rows: list[dict[str, Any]], tone: Tone) -> list[Spec]:
    data = {"values": rows}
    palette = PALETTES[tone]
    x = {"field": "band", "type": "ordinal", "sort": None, "title": None, "axis": {"labelAngle": 0}}
    y = {"type": "quantitative", "title": "Rejection, dB", "scale": {"zero": True, "nice": True}}
    tooltip = [
        {"field": "band", "type": "ordinal", "title": "Band"},
        {"field": "good", "type": "quantitative", "title": "Good up to, dB", "format": ".1f"},
        {"field": "floor", "type": "quantitative", "title": "Floor, dB", "format": ".1f"},
    ]
    hidden, shown = _LEGEND
    colour = {
        "type": "nominal",
        "scale": {"domain": [shown, hidden], "range": [palette.series[0], palette.shade]},
        "legend": {"symbolType": "square", "symbolStrokeWidth": 1},
    }
    return [
        {
            "data": data,
            "mark": {"type": "bar", "stroke": palette.faint, "strokeWidth": 1, "strokeDash": [3, 2]},
            "encoding": {
                "x": x,
                "y": {**y, "field": "good"},
                "y2": {"field": "floor"},
                "color": {**colour, "datum": hidden},
                "tooltip": tooltip,
            },
        },
        {
            "data": data,
            "mark": {"type": "bar"},
            "encoding": {
                "x": x,
                "y": {**y, "field": "good"},
                "color": {**colour, "datum": shown},
                "tooltip": tooltip,
            },
        },
    ]


def _limit(benchmark_db: float, band: str, tone: Tone) -> list[Spec]:
    data = {"values": [{"limit": benchmark_db, "label": f"benchmark {benchmark_db:g} dB"}]}
    y = {"field": "limit", "type": "quantitative"}
    colour = PALETTES[tone].limit
    words = {"align": "right", "baseline": "bottom", "dx": -4, "dy": -3, "fontSize": 12, "fontWeight": 600}
    return [
        {
            "data": data,
            "mark": {"type": "rule", "strokeDash": [6, 4], "strokeWidth": 2, "color": colour},
            "encoding": {"y": y},
        },
        {
            "data": data,
            "mark": {"type": "text", **words, "color": colour, "tooltip": None},
            "encoding": {"x": {"value": "width"}, "y": y, "text": {"field": "label"}},
        },
    ]
