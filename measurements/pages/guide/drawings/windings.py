"""Drawings of ratio devices inside: a tapped winding, a voltage balun, lines of a current balun."""

from __future__ import annotations

from measurements.pages.guide.drawings import symbols
from measurements.pages.guide.drawings.scene import Scene
from measurements.pages.guide.drawings.svg import BRAID, INK, PAPER
from measurements.pages.guide.drawings.symbols import SMALL

_COPPER, _CORE = "#8a5a00", "#aab2c1"
_NEAR_X, _FAR_X, _COIL_X = 70.0, 330.0, 200.0


def draw_tapped_winding() -> Scene:
    """Draw the 49:1: one winding of fourteen turns, the 50 ohm side across two of them."""
    scene = Scene()
    _draw_core_bar(scene, 50, 222)
    _draw_coil(scene, 50, 174, 6)
    _draw_coil(scene, 174, 222, 2)
    scene.wire((_NEAR_X, 174), (_COIL_X, 174))
    scene.wire((_COIL_X, 50), (_FAR_X, 50))
    scene.shield((_NEAR_X, 222), (_FAR_X, 222))
    _draw_capacitor(scene, 124, 174, 222)
    for name, at, words, side in (
        ("device centre", (_NEAR_X, 174), "centre", "end"),
        ("device shell", (_NEAR_X, 222), "shell", "end"),
        ("device A", (_FAR_X, 50), "A", "start"),
        ("device B", (_FAR_X, 222), "B", "start"),
    ):
        _draw_post(scene, name, at, words, side)
    scene.label((_COIL_X + 34, 116), "12 turns", "start", size=SMALL)
    scene.label((_COIL_X + 34, 203), "2 turns", "start", size=SMALL)
    scene.label((112, 203), "C", "end", size=SMALL)
    scene.label((14, 30), "50 Ω", "start")
    scene.label((386, 30), "2,450 Ω", "end")
    return scene


def draw_voltage_balun() -> Scene:
    """Draw the 4:1 voltage balun: two equal windings in series on one core, 50 ohm across one of them."""
    scene = Scene()
    _draw_core_bar(scene, 50, 222)
    _draw_coil(scene, 50, 136, 4)
    _draw_coil(scene, 136, 222, 4)
    scene.wire((_NEAR_X, 50), (_FAR_X, 50))
    scene.shield((_NEAR_X, 136), (_COIL_X, 136))
    scene.wire((_COIL_X, 222), (_FAR_X, 222))
    for name, at, words, side in (
        ("device centre", (_NEAR_X, 50), "centre", "end"),
        ("device shell", (_NEAR_X, 136), "shell", "end"),
        ("device A", (_FAR_X, 50), "A", "start"),
        ("device B", (_FAR_X, 222), "B", "start"),
    ):
        _draw_post(scene, name, at, words, side)
    scene.label((_COIL_X + 34, 98), "winding 1", "start", size=SMALL)
    scene.label((_COIL_X + 34, 184), "winding 2", "start", size=SMALL)
    scene.label((14, 24), "50 Ω", "start")
    scene.label((386, 24), "200 Ω", "end")
    return scene


def draw_current_balun() -> Scene:
    """Draw the 4:1 current balun: two lines on two cores, together at 50 ohm, in a row at 200 ohm."""
    scene = Scene()
    for upper, lower, words in ((64, 92, "core 1"), (164, 192, "core 2")):
        scene.shape(
            "rect", x=152, y=upper - 16, width=96, height=60, rx=24, fill=PAPER, stroke=_CORE, stroke_width=9
        )
        for y, colour in ((upper, INK), (lower, BRAID)):  # inside the core a line is a part, no mere wire
            scene.shape("path", d=f"M148 {y}L252 {y}", stroke=colour, stroke_width=4 if y == lower else 2.4)
        scene.label((_COIL_X, lower + 40), words, size=SMALL)
    scene.wire((_NEAR_X, 64), (148, 64))
    scene.wire((252, 64), (_FAR_X, 64))
    scene.wire((98, 64), (98, 164))
    scene.wire((98, 164), (148, 164), hops=((124, 164),))
    scene.shield((_NEAR_X, 192), (148, 192))
    scene.shield((124, 192), (124, 92), (148, 92))
    scene.link((252, 92), (276, 92), (276, 164), (252, 164))
    scene.wire((252, 192), (_FAR_X, 192))
    for name, at, words, side in (
        ("device centre", (_NEAR_X, 64), "centre", "end"),
        ("device shell", (_NEAR_X, 192), "shell", "end"),
        ("device A", (_FAR_X, 64), "A", "start"),
        ("device B", (_FAR_X, 192), "B", "start"),
    ):
        _draw_post(scene, name, at, words, side)
    scene.label((14, 26), "50 Ω", "start")
    scene.label((386, 26), "200 Ω", "end")
    return scene


def _draw_coil(scene: Scene, top: float, bottom: float, turns: int) -> None:
    """Draw a winding as so many bows to the right."""
    each = (bottom - top) / turns
    bows = "".join(f"a{each / 2:g} {each / 2:g} 0 0 1 0 {each:g}" for _ in range(turns))
    scene.shape("path", d=f"M{_COIL_X:g} {top:g}{bows}", fill="none", stroke=_COPPER, stroke_width=3)


def _draw_core_bar(scene: Scene, top: float, bottom: float) -> None:
    scene.shape("rect", x=_COIL_X + 18, y=top, width=9, height=bottom - top, fill=_CORE)


def _draw_capacitor(scene: Scene, x: float, top: float, bottom: float) -> None:
    middle = (top + bottom) / 2
    for start, end in ((top, middle - 4), (bottom, middle + 4)):
        scene.shape("path", d=f"M{x:g} {start:g}L{x:g} {end:g}", stroke=INK, stroke_width=2.4)
        scene.shape("path", d=f"M{x - 13:g} {end:g}L{x + 13:g} {end:g}", stroke=INK, stroke_width=3)


def _draw_post(scene: Scene, name: str, at: tuple[float, float], words: str, side: str) -> None:
    symbols.draw_terminal(scene, name, at)
    away = -12 if side == "end" else 12
    scene.label((at[0] + away, at[1] + 5), words, side, size=SMALL)  # type: ignore[arg-type]
