"""The pieces every panel is made of: the frequency axis, band shading, the limit line, the frame.

A panel is a layered Vega-Lite view with frequency in MHz on a logarithmic axis.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from measurements.charts.tones import PALETTES, Tone, config
from measurements.queries.rows import BandRow

Spec = dict[str, Any]

SCHEMA = "https://vega.github.io/schema/vega-lite/v6.json"  # names the language; nothing is loaded from it
VEGALITE_VERSION = "6.4"
HEIGHT_PX = 300
TICKS_MHZ = [1, 2, 3, 5, 7, 10, 14, 20, 30, 50, 100, 200, 500]
GRID_SPAN_MHZ = (1.0, 54.0)


def rounded(value: float | None, digits: int) -> float | None:
    """A figure short enough for a chart; None stays a gap."""
    return None if value is None else round(float(value), digits)


def mhz(freq_hz: float) -> float:
    """Megahertz with a resolution that no screen can show."""
    return float(f"{freq_hz / 1e6:.5g}")


def x_axis(span_mhz: tuple[float, float]) -> Spec:
    """Encoding of the shared frequency axis."""
    low, high = span_mhz
    return {
        "field": "f",
        "type": "quantitative",
        "title": "Frequency, MHz",
        "scale": {"type": "log", "domain": [low, high], "nice": False},
        "axis": {
            "values": [tick for tick in TICKS_MHZ if low <= tick <= high],
            "format": "~g",
            "grid": False,
        },
    }


def band_layers(bands: Iterable[BandRow], span_mhz: tuple[float, float], tone: Tone) -> list[Spec]:
    """Shaded bands with their names, clipped to the span; nothing where no band lies in it."""
    low, high = span_mhz
    rows = [
        {"name": row.band, "f": max(mhz(row.start_hz), low), "to": min(mhz(row.stop_hz), high)}
        for row in bands
        if mhz(row.start_hz) < high and mhz(row.stop_hz) > low
    ]
    if not rows:
        return []
    data = {"values": rows}
    x = x_axis(span_mhz)
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
            "encoding": {"x": x, "x2": {"field": "to"}},
        },
        {
            "data": data,
            "mark": {"type": "text", **words, "color": PALETTES[tone].faint, "tooltip": None},
            "encoding": {"x": x, "y": {"value": HEIGHT_PX}, "text": {"field": "name"}},
        },
    ]


def limit_layers(value: float, label: str, y: Spec, span_mhz: tuple[float, float], tone: Tone) -> list[Spec]:
    """A dashed line at a limit with its words at the left."""
    data = {"values": [{"f": span_mhz[0], "limit": value, "label": label}]}
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
            "encoding": {"x": x_axis(span_mhz), "y": y_limit, "text": {"field": "label"}},
        },
    ]


def pointer_layer(
    rows: Spec, columns: Sequence[tuple[str, str]], span_mhz: tuple[float, float], tone: Tone
) -> Spec:
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
        "mark": {"type": "rule", "color": PALETTES[tone].faint, "strokeWidth": 1},
        "encoding": {
            "x": x_axis(span_mhz),
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
