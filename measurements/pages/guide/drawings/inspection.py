"""Pictures of the check list: beside each item how it looks when it is good, and what to look for.

Each is a sheet of two panels. A dashed ring marks the fault, so that it is found without colour.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from measurements.pages.guide.drawings.scene import Point, Scene
from measurements.pages.guide.drawings.svg import BRAID, EDGE, FAINT, INK, PAPER, write_svg

HEIGHT = 164
_LEFT, _RIGHT, _WIDE = 8.0, 204.0, 188.0
_WATER = "#c9d8ea"


@dataclass(frozen=True)
class InspectionPicture:
    """What is drawn of an item. draw: fills a panel at an offset, good or not. ring: around the fault."""

    fault: str
    draw: Callable[[Scene, float, bool], None]
    ring: tuple[float, float, float]


def _line(scene: Scene, path: str, width: float = 2.4, colour: str = INK, fill: str = "none") -> None:
    scene.shape("path", d=path, fill=fill, stroke=colour, stroke_width=width, stroke_linejoin="round",
                stroke_linecap="round")  # fmt: skip


def _disc(scene: Scene, at: Point, radius: float, fill: str = PAPER, width: float = 2.4) -> None:
    scene.shape("circle", cx=at[0], cy=at[1], r=radius, fill=fill, stroke=INK, stroke_width=width)


def _box(scene: Scene, x: float, fill: str = PAPER) -> None:
    scene.shape("rect", x=x + 34, y=34, width=120, height=82, rx=5, fill=fill, stroke=INK, stroke_width=2.4)


def _drop(scene: Scene, x: float, y: float) -> None:
    _line(scene, f"M{x} {y}c-5 8 -5 13 0 13c5 0 5 -5 0 -13z", 1.8, INK, _WATER)


def _bolt(scene: Scene, x: float, y: float) -> None:
    """Draw a hexagon head."""
    _line(scene, f"M{x - 14} {y}l7 -12h14l7 12l-7 12h-14z", 2.4, INK, EDGE)
    _disc(scene, (x, y), 4, INK, 0)


def _toroid(scene: Scene, x: float, fill: str = EDGE) -> None:
    _disc(scene, (x + 94, 76), 42, fill)
    _disc(scene, (x + 94, 76), 20)


def draw_terminals(scene: Scene, x: float, good: bool) -> None:
    _line(scene, f"M{x + 20} 104h148", 5, BRAID)
    _bolt(scene, x + 64, 78)
    if good:
        _bolt(scene, x + 124, 78)
        return
    _line(scene, f"M{x + 112} 58l26 8l-6 24l-26 -8z", 2.4, INK, EDGE)  # turned in its hole
    _line(scene, f"M{x + 116} 104l5 -9l4 7l5 -10", 2)
    _disc(scene, (x + 134, 96), 7, INK, 0)


def draw_corrosion(scene: Scene, x: float, good: bool) -> None:
    _disc(scene, (x + 94, 76), 38, EDGE)
    _disc(scene, (x + 94, 76), 24)
    _disc(scene, (x + 94, 76), 6, INK, 0)
    if not good:
        for at in ((62, 54), (70, 48), (58, 64), (74, 58), (66, 66), (56, 76), (80, 46)):
            _disc(scene, (x + at[0], at[1]), 5, PAPER, 1.4)


def draw_moisture(scene: Scene, x: float, good: bool) -> None:
    _box(scene, x)
    if good:
        _line(scene, f"M{x + 88} 116h12", 5, PAPER)  # the drain hole, open and facing down
        _drop(scene, x + 94, 120)
        return
    scene.shape("rect", x=x + 36, y=88, width=116, height=27, fill=_WATER)
    _line(scene, f"M{x + 36} 88h116", 1.8)
    for at in (60, 96, 128):
        _drop(scene, x + at, 52 + at % 7)


def draw_enclosure(scene: Scene, x: float, good: bool) -> None:
    _box(scene, x)
    if good:
        _line(scene, f"M{x + 28} 34h132", 6)
        return
    _line(scene, f"M{x + 28} 34l130 -12", 6)  # the lid does not close
    _line(scene, f"M{x + 124} 116l-8 -18l10 -8l-9 -16l8 -8", 2)


def draw_strain_relief(scene: Scene, x: float, good: bool) -> None:
    _box(scene, x)
    _disc(scene, (x + 154, 62), 8)
    _bolt(scene, x + 132, 94)
    if good:
        _line(scene, f"M{x + 162} 62h24", 5, BRAID)  # the load
        _line(scene, f"M{x + 146} 94c18 14 26 -10 30 -30", 2.4)  # slack
    else:
        _line(scene, f"M{x + 146} 94l40 -6", 2.4)
        _line(scene, f"M{x + 162} 64c8 12 12 8 16 4", 5, BRAID)


def draw_winding(scene: Scene, x: float, good: bool) -> None:
    _toroid(scene, x)
    for turn in (-30, -18, -6, 6, 18):
        _line(scene, f"M{x + 94 + turn} 30c-6 8 -6 20 0 28", 3.4)
    if good:
        _line(scene, f"M{x + 124} 30c-6 8 -6 20 0 28", 3.4)
        return
    _line(scene, f"M{x + 124} 58c14 -4 34 -26 18 -36c-8 -4 -14 2 -18 8", 3.4)  # loose
    _line(scene, f"M{x + 134} 40l5 -6l3 8l6 -6", 1.6)


def draw_locking(scene: Scene, x: float, good: bool) -> None:
    scene.shape("rect", x=x + 86, y=26, width=16, height=92, fill=EDGE, stroke=INK, stroke_width=2)
    _line(scene, f"M{x + 30} 100h128", 6, BRAID)
    nut = 70 if good else 44
    scene.shape("rect", x=x + 66, y=nut, width=56, height=20, rx=2, fill=PAPER, stroke=INK, stroke_width=2.4)
    if good:
        _line(scene, f"M{x + 68} 94h52", 4)  # lock washer


def draw_core(scene: Scene, x: float, good: bool) -> None:
    _toroid(scene, x)
    if not good:
        _line(scene, f"M{x + 108} 62l8 -6l4 -10l12 -6", 5, PAPER)
        _line(scene, f"M{x + 108} 62l8 -6l4 -10l12 -6", 1.6)


def draw_tracking(scene: Scene, x: float, good: bool) -> None:
    scene.shape("rect", x=x + 20, y=42, width=148, height=68, rx=4, fill=PAPER, stroke=INK, stroke_width=2.4)
    if not good:
        trunk = f"M{x + 60} 76l14 -4l8 8l12 -8l10 6l14 -4l10 4"
        twigs = f"M{x + 74} 72l4 -14l8 -4M{x + 82} 80l2 14l9 6M{x + 94} 72l6 -16M{x + 104} 78l8 14"
        _line(scene, trunk + twigs, 2)
    _bolt(scene, x + 48, 76)
    _bolt(scene, x + 140, 76)


def draw_insects(scene: Scene, x: float, good: bool) -> None:
    _box(scene, x)
    if good:
        for at in (84, 90, 96, 102):
            _line(scene, f"M{x + at} 110v12", 1.6)  # mesh over the hole
        return
    web = f"M{x + 36} 60l50 -24M{x + 36} 80l84 -44M{x + 36} 100l118 -62M{x + 60} 36l10 36l26 34"
    _line(scene, web, 1.4)
    _disc(scene, (x + 112, 88), 18, BRAID)
    for at in ((106, 82), (118, 84), (110, 94)):
        _disc(scene, (x + at[0], at[1]), 4, PAPER, 1.4)


def draw_plug_water(scene: Scene, x: float, good: bool) -> None:
    scene.shape("rect", x=x + 30, y=52, width=56, height=48, rx=4, fill=EDGE, stroke=INK, stroke_width=2.4)
    _line(scene, f"M{x + 86} 76h82", 20, INK)
    _line(scene, f"M{x + 86} 76h82", 15, PAPER if good else BRAID)
    _line(scene, f"M{x + 14} 76h154", 3)
    if good:
        _line(scene, f"M{x + 80} 58c14 -6 22 -2 30 6v24c-8 8 -16 12 -30 6", 2, FAINT)  # wrap
        return
    for at in (100, 122, 144):
        _drop(scene, x + at, 84)
    _drop(scene, x + 58, 66)


PICTURES: dict[str, InspectionPicture] = {
    "terminals": InspectionPicture("turned, cracked, burnt", draw_terminals, (124, 82, 34)),
    "corrosion": InspectionPicture("green or white bloom", draw_corrosion, (68, 60, 28)),
    "moisture": InspectionPicture("water line, drain closed", draw_moisture, (94, 104, 26)),
    "enclosure": InspectionPicture("crack, lid not closed", draw_enclosure, (120, 92, 30)),
    "strain_relief": InspectionPicture("the wire carries the load", draw_strain_relief, (146, 92, 26)),
    "winding": InspectionPicture("loose turn, cracked joint", draw_winding, (140, 40, 26)),
    "locking": InspectionPicture("loose, washer gone", draw_locking, (94, 76, 30)),
    "core": InspectionPicture("crack", draw_core, (118, 52, 22)),
    "tracking": InspectionPicture("black trees", draw_tracking, (94, 76, 32)),
    "insects": InspectionPicture("nest and web", draw_insects, (112, 88, 26)),
    "plug_water": InspectionPicture("wet, dark braid", draw_plug_water, (122, 86, 34)),
}


def draw_inspection_item(code: str) -> Scene:
    """Draw both panels of an item. Raises KeyError for a code that has no picture."""
    picture = PICTURES[code]
    scene = Scene()
    for x, good in ((_LEFT, True), (_RIGHT, False)):
        scene.shape("rect", x=x, y=8, width=_WIDE, height=118, fill=PAPER, stroke=EDGE, stroke_width=1)
        picture.draw(scene, x, good)
    x, y, radius = picture.ring
    scene.shape("circle", front=True, cx=_RIGHT + x, cy=y, r=radius, fill="none", stroke=INK, stroke_width=2,
                stroke_dasharray="6 5")  # fmt: skip
    scene.label((_LEFT + _WIDE / 2, 150), "good", size=14)
    scene.label((_RIGHT + _WIDE / 2, 150), picture.fault, size=14)
    return scene


def write_inspection_picture(code: str, title: str, look: str) -> tuple[str, str]:
    """Write the picture of an item as SVG; answer it with the words that say the same."""
    words = f"Two panels. Left: good. Right, in a dashed ring: {PICTURES[code].fault}. {look}"
    return write_svg(draw_inspection_item(code), title, words, height=HEIGHT, legend=False), words
