"""Colours of a chart on light and on dark ground, as a Vega-Lite configuration.

Lines differ in colour and in dash pattern, so that neither a colour-blind reader nor a grey print
loses one. The hues (blue, orange, grey) stay apart under all common colour deficiencies.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

Tone = Literal["light", "dark"]
FONT = "system-ui, 'DejaVu Sans', sans-serif"


@dataclass(frozen=True)
class Palette:
    """One tone. `series` colours the lines of a panel in order; `shade` fills the bands.

    ground: the same as the page's card colour (static/benchnight.css), so that a picture sits in it unseen.
    """

    ground: str
    ink: str
    faint: str
    grid: str
    shade: str
    limit: str
    series: tuple[str, str, str, str]


PALETTES: dict[Tone, Palette] = {
    "light": Palette(
        ground="#ffffff",
        ink="#1b2333",
        faint="#566074",
        grid="#dde2ea",
        shade="#e3e8f0",
        limit="#8f2b4c",
        series=("#0f5c97", "#b4541a", "#5d6472", "#7a4a8c"),
    ),
    "dark": Palette(
        ground="#182139",
        ink="#e8ecf5",
        faint="#a3adc2",
        grid="#2b3654",
        shade="#26325a",
        limit="#f29bb4",
        series=("#7db8f0", "#f0a468", "#b4bccb", "#c9a2da"),
    ),
}
DASHES: tuple[list[int], ...] = ([1, 0], [7, 3], [2, 3], [9, 3, 2, 3])


def build_config(tone: Tone) -> dict[str, Any]:
    """Return the `config` block of a specification."""
    palette = PALETTES[tone]
    words = {"labelColor": palette.faint, "titleColor": palette.ink, "titleFontWeight": 600}
    return {
        "background": palette.ground,
        "font": FONT,
        "view": {"stroke": palette.grid},
        "axis": {
            **words,
            "gridColor": palette.grid,
            "domainColor": palette.faint,
            "tickColor": palette.faint,
            "labelFontSize": 12,
            "titleFontSize": 12,
        },
        "legend": {
            **words,
            "orient": "top",
            "labelFontSize": 12,
            "labelColor": palette.ink,
            "labelLimit": 260,
            "symbolSize": 400,
            "symbolStrokeWidth": 2.5,
            "title": None,
        },
        "title": {"color": palette.ink, "anchor": "start", "fontSize": 14, "fontWeight": 600},
        "line": {"strokeWidth": 2.2, "strokeJoin": "round"},
    }
