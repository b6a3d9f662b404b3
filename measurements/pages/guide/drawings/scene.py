"""A drawing as data: wires, named pins, symbols and labels on a sheet of 400 by 276 units.

The legend of the lines is at its foot.

Wires are electrical: what `nets.py` finds joined is what the drawing shows as joined, so a test can hold a
drawing against its circuit.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

Point = tuple[float, float]
Conductor = Literal["centre", "shield", "link"]
Anchor = Literal["start", "middle", "end"]
Tone = Literal["ink", "faint"]

WIDTH, HEIGHT = 400, 276


@dataclass(frozen=True)
class Wire:
    """One conductor along `points`. hops: where it passes over another wire without touching it."""

    points: tuple[Point, ...]
    conductor: Conductor
    hops: tuple[Point, ...] = ()


@dataclass(frozen=True)
class Label:
    """A word in the drawing; every one of them must be said in the words beside the drawing too."""

    at: Point
    text: str
    anchor: Anchor = "middle"
    size: float = 15
    tone: Tone = "ink"


@dataclass(frozen=True)
class Shape:
    """A piece of a symbol: an SVG element with presentation attributes only."""

    tag: str
    attributes: tuple[tuple[str, str], ...]


@dataclass
class Scene:
    """What is on the sheet. pins: terminal -> where it is, such as "port 1 centre" or "device A"."""

    pins: dict[str, Point] = field(default_factory=dict)
    wires: list[Wire] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    behind: list[Shape] = field(default_factory=list)
    before: list[Shape] = field(default_factory=list)

    def wire(self, *points: Point, conductor: Conductor = "centre", hops: tuple[Point, ...] = ()) -> None:
        self.wires.append(Wire(points, conductor, hops))

    def shield(self, *points: Point) -> None:
        self.wire(*points, conductor="shield")

    def link(self, *points: Point) -> None:
        """Draw a jumper or strap that the reader makes: heavier."""
        self.wire(*points, conductor="link")

    def label(
        self, at: Point, text: str, anchor: Anchor = "middle", *, size: float = 15, tone: Tone = "ink"
    ) -> None:
        self.labels.append(Label(at, text, anchor, size, tone))

    def shape(self, tag: str, *, front: bool = False, **attributes: object) -> None:
        """Add a piece of a symbol; `stroke_width=2` becomes `stroke-width="2"`."""
        named = tuple((name.rstrip("_").replace("_", "-"), str(value)) for name, value in attributes.items())
        (self.before if front else self.behind).append(Shape(tag, named))
