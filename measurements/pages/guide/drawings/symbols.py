"""The symbols of the drawings, of our own make: analyser, coax end, device, resistor, clip, ghost, antenna.

Each draws itself into a scene and names its pins there.
"""

from __future__ import annotations

from math import cos, radians, sin

from measurements.pages.guide.drawings.scene import Point, Scene
from measurements.pages.guide.drawings.svg import BRAID, FAINT, INK, PAPER

COLLAR_Y = 152.0  # where the braid of a coax ends; wires between shields run at this height
CENTRE_Y = 141.0  # where its centre conductor comes out
UPPER_Y, LOWER_Y = 62.0, 106.0  # the two rows of terminals
LEFT_X, RIGHT_X = 46.0, 354.0  # port 1 and port 2
SMALL = 13.5
_BENCH_Y = 206.0
_CORE, _WOUND, _CASE, _BODY = "#aab2c1", "#8a5a00", "#fdf7e6", "#eef1f6"


def draw_analyser(scene: Scene, ports: dict[str, float], *, idle: dict[str, float] | None = None) -> None:
    """Draw the analyser, with a coax rising from each port at its x, and bare sockets for idle ports."""
    scene.shape("rect", x=12, y=_BENCH_Y, width=376, height=38, rx=7, fill=_BODY, stroke=INK, stroke_width=2)
    scene.label((200, _BENCH_Y + 25), "analyser")
    for name, x in {**ports, **(idle or {})}.items():
        scene.shape("rect", x=x - 11, y=_BENCH_Y - 9, width=22, height=10, rx=2, fill=INK)
        scene.label((x, _BENCH_Y + 25), name, size=SMALL)
    for name, x in ports.items():
        _draw_coax(scene, name, x)
    for name, x in (idle or {}).items():
        scene.label((x, _BENCH_Y - 16), "not used", size=SMALL, tone="faint")
        scene.pins[f"{name} centre"] = (x, _BENCH_Y - 5)


def _draw_coax(scene: Scene, name: str, x: float) -> None:
    """Draw a coax from its socket up to the end of its braid, where shield and centre part."""
    top = COLLAR_Y
    scene.shape(
        "rect",
        x=x - 7,
        y=top,
        width=14,
        height=_BENCH_Y - 9 - top,
        fill=PAPER,
        stroke=INK,
        stroke_width=2,
    )
    for step in range(3):
        y = top + 9 + 14 * step
        scene.shape("path", d=f"M{x - 6:g} {y + 6:g}L{x + 6:g} {y:g}", stroke=BRAID, stroke_width=1.6)
    scene.shape(
        "rect", x=x - 4, y=CENTRE_Y, width=8, height=top - CENTRE_Y, fill=PAPER, stroke=INK, stroke_width=1.4
    )
    scene.shield((x - 11, top), (x + 11, top))
    scene.pins[f"{name} shield"] = (x, top)
    scene.pins[f"{name} centre"] = (x, CENTRE_Y)


def draw_device(
    scene: Scene,
    name: str,
    x: float,
    width: float,
    *,
    left: tuple[str, str] = ("centre", "shell"),
    right: tuple[str, str] = ("A", "B"),
    name_end: bool = False,
) -> None:
    """Draw a device: a case with a wound core, two terminals on either side, upper and lower."""
    _draw_case(scene, x, 34, width, 100)
    corners = ((x, UPPER_Y), (x, LOWER_Y), (x + width, UPPER_Y), (x + width, LOWER_Y))
    _draw_core(scene, (x + width / 2, 84), 27 if width > 120 else 19, corners)
    for side, names in ((x, left), (x + width, right)):
        for label, y, label_y in zip(names, (UPPER_Y, LOWER_Y), (UPPER_Y - 9, LOWER_Y + 19), strict=True):
            draw_terminal(scene, f"{name} {label}", (side, y))
            inward, anchor = (9, "start") if side == x else (-9, "end")
            scene.label((side + inward, label_y), label, anchor, size=SMALL)  # type: ignore[arg-type]
    scene.label((x + width, 26) if name_end else (x, 26), name, "end" if name_end else "start")


def draw_device_from_below(scene: Scene, name: str) -> None:
    """Draw a device with its balanced terminals left and right and its unbalanced side below."""
    _draw_case(scene, 128, 30, 144, 80)
    _draw_core(scene, (200, 66), 20, ((128, UPPER_Y), (178, 110), (272, UPPER_Y), (222, 110)))
    for label, at, label_at, anchor in (
        ("A", (128, UPPER_Y), (137, 53), "start"),
        ("B", (272, UPPER_Y), (263, 53), "end"),
        ("centre", (178, 110), (174, 101), "end"),
        ("shell", (222, 110), (227, 101), "start"),
    ):
        draw_terminal(scene, f"{name} {label}", at)
        scene.label(label_at, label, anchor, size=SMALL)  # type: ignore[arg-type]
    scene.label((128, 22), name, "start")


def _draw_case(scene: Scene, x: float, y: float, width: float, height: float) -> None:
    scene.shape("rect", x=x, y=y, width=width, height=height, rx=9, fill=_CASE, stroke=INK, stroke_width=2)


def _draw_core(scene: Scene, middle: Point, radius: float, leads: tuple[Point, Point, Point, Point]) -> None:
    """Draw a ring of ferrite, wound on its left and on its right; leads: where the four ends of wire go."""
    x, y = middle
    scene.shape("circle", cx=x, cy=y, r=radius, fill="none", stroke=_CORE, stroke_width=radius * 0.46)
    ends: list[Point] = []
    for base, steps in ((180, (48, 24, 0, -24, -48)), (0, (-48, -24, 0, 24, 48))):
        for step in steps:
            inner, outer = (_polar(middle, radius * share, base + step) for share in (0.66, 1.34))
            _draw_copper(scene, inner, outer)
            ends.append(outer)
    for end, lead in zip((ends[0], ends[4], ends[5], ends[9]), leads, strict=True):
        _draw_copper(scene, end, lead)


def _draw_copper(scene: Scene, start: Point, end: Point) -> None:
    run = f"M{start[0]:.1f} {start[1]:.1f}L{end[0]:.1f} {end[1]:.1f}"
    scene.shape("path", d=run, stroke=_WOUND, stroke_width=2.4, stroke_linecap="round")


def _polar(middle: Point, radius: float, degrees: float) -> Point:
    """Return a point around `middle`; y runs downwards, so angles turn clockwise."""
    turn = radians(degrees)
    return middle[0] + radius * cos(turn), middle[1] + radius * sin(turn)


def draw_terminal(scene: Scene, name: str, at: Point) -> None:
    """Draw a binding post."""
    scene.shape("circle", front=True, cx=at[0], cy=at[1], r=5, fill=PAPER, stroke=INK, stroke_width=2)
    scene.pins[name] = at


def draw_resistor(scene: Scene, name: str, start: Point, end: Point) -> None:
    """Draw a resistor between two points of one row or column; its two pins are `name 1` and `name 2`."""
    (x0, y0), (x1, y1) = start, end
    scene.shape("path", d=f"M{x0:g} {y0:g}L{x1:g} {y1:g}", stroke=INK, stroke_width=2.4)
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    length = max(abs(x1 - x0), abs(y1 - y0))
    body = min(40, length - 14)
    wide, high = (body, 16) if y0 == y1 else (16, body)
    scene.shape(
        "rect",
        front=True,
        x=x - wide / 2,
        y=y - high / 2,
        width=wide,
        height=high,
        fill=PAPER,
        stroke=INK,
        stroke_width=2.4,
    )
    scene.pins[f"{name} 1"], scene.pins[f"{name} 2"] = start, end


def draw_clip(scene: Scene, at: Point, *, facing: str) -> None:
    """Draw a crocodile clip with its jaws at `at`, facing left or right."""
    x, y = at
    back = 1 if facing == "left" else -1
    jaws = f"M{x:g} {y:g}L{x + 12 * back:g} {y - 6:g}L{x + 26 * back:g} {y - 3.5:g}"
    scene.shape("path", front=True, d=f"{jaws}V{y + 3.5:g}L{x + 12 * back:g} {y + 6:g}Z", fill=INK)


def draw_device_outline(scene: Scene) -> None:
    """Draw the place of a device that is left out."""
    scene.shape(
        "rect",
        x=128,
        y=34,
        width=144,
        height=100,
        rx=9,
        fill="none",
        stroke=FAINT,
        stroke_width=1.6,
        stroke_dasharray="5 5",
    )


def draw_antenna(scene: Scene) -> None:
    """Draw the two legs of an antenna at its feed point, each ending in an insulator."""
    for name, y, end_y in (("leg 1", UPPER_Y, 26), ("leg 2", LOWER_Y, 142)):
        scene.shape("path", d=f"M316 {y:g}L380 {end_y}", stroke=INK, stroke_width=2.4)
        scene.shape("circle", front=True, cx=382, cy=end_y, r=5, fill=BRAID, stroke=INK, stroke_width=2)
        draw_terminal(scene, f"antenna {name}", (316, y))
    scene.label((356, 89), "antenna", size=SMALL)
