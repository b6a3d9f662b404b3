"""The pieces every panel is made of: the frequency axis, band shading, the limit line, the frame.

A panel is a layered Vega-Lite view with frequency in MHz on a shared axis, logarithmic or linear.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from measurements.charts.frequency_axis import FrequencyAxis
from measurements.charts.tones import PALETTES, Tone, config
from measurements.queries.rows import BandRow

Spec = dict[str, Any]

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"  # names the language; nothing is loaded from it
VEGALITE_VERSION = "6.4"
HEIGHT_PX = 300


def rounded(value: float | None, digits: int) -> float | None:
    """A figure short enough for a chart; None stays a gap."""
    return None if value is None else round(float(value), digits)


def mhz(freq_hz: float) -> float:
    """Megahertz with a resolution that no screen can show."""
    return float(f"{freq_hz / 1e6:.5g}")


def band_layers(bands: Iterable[BandRow], x: FrequencyAxis, tone: Tone) -> list[Spec]:
    """Shaded bands with their names, clipped to the span; nothing where no band lies in it."""
    low, high = x.low_mhz, x.high_mhz
    rows = [
        {"name": row.band, "f": max(mhz(row.start_hz), low), "to": min(mhz(row.stop_hz), high)}
        for row in bands
        if mhz(row.start_hz) < high and mhz(row.stop_hz) > low
    ]
    if not rows:
        return []
    data = {"values": rows}
    words = {"align": "left", "angle": 270, "baseline": "bottom", "fontSize": 11, "dx": 4, "dy": -1}
    return [
        {
            "data": data,
            "mark": {
                "type": "rect",
                "color": PALETTES[tone].shade,
                # a narrow band stays visible on a phone
                "stroke": PALETTES[tone].shade,
                "strokeWidth": 1.5,
                "tooltip": None,
                "clip": True,
            },
            "encoding": {"x": x.encoding(), "x2": {"field": "to"}},
        },
        {
            "data": data,
            "mark": {"type": "text", **words, "color": PALETTES[tone].faint, "tooltip": None},
            "encoding": {"x": x.encoding(), "y": {"value": HEIGHT_PX}, "text": {"field": "name"}},
        },
    ]


def limit_layers(value: float, label: str, y: Spec, x: FrequencyAxis, tone: Tone) -> list[Spec]:
    """A dashed line at a limit with its words at the left."""
    data = {"values": [{"f": x.low_mhz, "limit": value, "label": label}]}
    colour = PALETTES[tone].limit
    y_limit = {**y, "field": "limit"}
    return [
        {
            "data": data,
            "mark": {
                "type": "rule",
                "strokeDash": [6, 4],
                "strokeWidth": 1.5,
                "color": colour,
                "tooltip": None,
            },
            "encoding": {"y": y_limit},
        },
        {
            "data": data,
            "mark": {
                "type": "text",
                "align": "left",
                "baseline": "bottom",
                "dx": 5,
                "dy": -3,
                "color": colour,
                "fontSize": 12,
                "tooltip": None,
            },
            "encoding": {"x": x.encoding(), "y": y_limit, "text": {"field": "label"}},
        },
    ]


def pointer_layer(rows: Spec, columns: Sequence[tuple[str, str]], x: FrequencyAxis, tone: Tone) -> Spec:
    """An upright line under the pointer that reads out every column there."""
    nearest = {
        "name": "at",
        "select": {
            "type": "point",
            "nearest": True,
            "on": "pointerover",
            "clear": "pointerout",
            "encodings": ["x"],
        },
    }
    return {
        "data": rows,
        "params": [nearest],
        # clip: a point outside the span would else take room beside the panel
        "mark": {"type": "rule", "color": PALETTES[tone].faint, "strokeWidth": 1, "clip": True},
        "encoding": {
            "x": x.encoding(),
            "opacity": {"condition": {"param": "at", "empty": False, "value": 0.8}, "value": 0},
            "tooltip": [
                {"field": "f", "type": "quantitative", "title": "MHz", "format": ".4~g"},
                *(
                    {"field": field, "type": "quantitative", "title": title, "format": ".4~g"}
                    for field, title in columns
                ),
            ],
        },
    }


def view(layers: list[Spec], title: str, width_px: int | None) -> Spec:
    """A panel; `width_px` None lets it fill the element it is drawn in."""
    return {
        "title": title,
        "width": "container" if width_px is None else width_px,
        "height": HEIGHT_PX,
        "layer": layers,
    }


def framed(views: Sequence[Spec], description: str, tone: Tone) -> Spec:
    """The whole specification: one panel as it is, several below each other."""
    apart = {"scale": {"color": "independent", "strokeDash": "independent"}}
    body: Spec = dict(views[0]) if len(views) == 1 else {"vconcat": list(views), "resolve": apart}
    return {
        "$schema": SCHEMA,
        "description": description,
        "datasets": shared_data(views),
        "padding": 5,
        **({"autosize": {"type": "fit-x", "contains": "padding"}} if len(views) == 1 else {}),
        **body,
        "config": config(tone),
    }


def shared_data(views: Sequence[Spec]) -> dict[str, Any]:
    """Moves the rows of all layers out to named data, so that layers which share rows send them once."""
    names: dict[int, str] = {}
    datasets: dict[str, Any] = {}
    for layer in (layer for view in views for layer in view["layer"]):
        rows = layer["data"]["values"]
        name = names.setdefault(id(rows), f"rows{len(names)}")
        datasets[name] = rows
        layer["data"] = {"name": name}
    return datasets
