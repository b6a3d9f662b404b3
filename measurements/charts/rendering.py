"""SVG and PNG from a specification, on this machine, without a browser and without the network."""

from __future__ import annotations

import hashlib
import json
import re
import threading
from functools import lru_cache
from typing import Any, Literal

from django.core.cache import caches

from measurements.charts.panel_layers import VEGALITE_VERSION

CACHED_PICTURES = (
    64  # readers fetch the same chart again and again; its text is the key, so nobody gets another's
)
PNG_SCALE = 2.0
SMALLEST_CHART = {"data": {"values": [{"x": 1}]}, "mark": "point", "title": "x"}
_PART_NAME = re.compile(r'\bid="((?:clip|gradient_)\d+)"')
_PART_USE = re.compile(r'(\bid="|url\(#|href="#)((?:clip|gradient_)\d+)("|\))')
# the engine uses all of a processor: two pictures at once take twice as long each
_drawing = threading.Lock()


def render_svg(spec: dict[str, Any], *, kept: bool = True) -> str:
    """Return the chart as SVG text. kept: False for what is one reader's own, so that no memory holds it."""
    text = json.dumps(spec, sort_keys=True, separators=(",", ":"))
    return _render_cached_svg(text) if kept else _render_svg_text(text)


def render_kept(spec: dict[str, Any], form: Literal["svg", "png"]) -> bytes:
    """Draw a picture of what a release published, or take it from the cache `pictures`.

    The specification is the key, so a release that changes a figure changes the key with it. Two requests
    for one picture draw it once.
    """
    text = json.dumps(spec, sort_keys=True, separators=(",", ":"))
    key = hashlib.sha256(f"{VEGALITE_VERSION} {form} {text}".encode()).hexdigest()
    kept = caches["pictures"]
    found: bytes | None = kept.get(key)
    if found is not None:
        return found
    with _drawing:
        found = kept.get(key)
        if found is None:
            found = render_png(spec) if form == "png" else _render_svg_text(text).encode()
            kept.set(key, found)
    return found


def start_engine() -> None:
    """Load the drawing engine and its fonts, so that the first reader does not wait for them."""
    import vl_convert

    vl_convert.svg_to_png(_render_svg_text(json.dumps(SMALLEST_CHART)))


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
    """Draw, and name the parts of the picture after its specification.

    The engine numbers them through all that this process ever drew: no two drawings would be alike, and the
    numbers would count what others looked at. Two pictures on one page need names that differ.
    """
    import vl_convert

    svg: str = vl_convert.vegalite_to_svg(text, vl_version=VEGALITE_VERSION, allowed_base_urls=[])
    prefix = f"p{hashlib.sha256(text.encode()).hexdigest()[:8]}-"
    numbers: dict[str, int] = {}
    for name in _PART_NAME.findall(svg):
        numbers.setdefault(name, len(numbers))
    return _PART_USE.sub(
        lambda found: f"{found[1]}{prefix}{numbers[found[2]]}{found[3]}" if found[2] in numbers else found[0],
        svg,
    )
