"""SVG and PNG from a specification, on this machine, without a browser and without the network."""

from __future__ import annotations

import json
from functools import lru_cache
from typing import Any

from measurements.charts.panel_layers import VEGALITE_VERSION

CACHED_PICTURES = (
    64  # readers fetch the same chart again and again; its text is the key, so nobody gets another's
)
PNG_SCALE = 2.0


def render_svg(spec: dict[str, Any], *, kept: bool = True) -> str:
    """Return the chart as SVG text. kept: False for what is one reader's own, so that no memory holds it."""
    text = json.dumps(spec, sort_keys=True, separators=(",", ":"))
    return _render_cached_svg(text) if kept else _render_svg_text(text)


def render_png(spec: dict[str, Any]) -> bytes:
    """Return the chart as PNG, two pixels per unit, on the ground that the specification names."""
    import vl_convert  # slow to load and only needed here

    return vl_convert.vegalite_to_png(
        json.dumps(spec), vl_version=VEGALITE_VERSION, scale=PNG_SCALE, allowed_base_urls=[]
    )


@lru_cache(maxsize=CACHED_PICTURES)
def _render_cached_svg(text: str) -> str:
    return _render_svg_text(text)


def _render_svg_text(text: str) -> str:
    import vl_convert

    return vl_convert.vegalite_to_svg(text, vl_version=VEGALITE_VERSION, allowed_base_urls=[])
