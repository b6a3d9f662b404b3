"""Writes a scene as an SVG file: presentation attributes only, no style, no script, nothing from elsewhere.

The file is shown as a picture on a light sheet of its own, so it reads the same in a dark page and in print.
A centre conductor is thin and dark, a shield wide and grey, a link that the reader makes is heavy: they are
told apart without colour.
"""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from measurements.pages.guide.drawings.nets import find_joints
from measurements.pages.guide.drawings.scene import HEIGHT, WIDTH, Conductor, Label, Point, Scene, Shape, Wire

INK, FAINT, BRAID, PAPER, EDGE = "#1b2333", "#566074", "#8b95a9", "#ffffff", "#d3d9e2"
FONT = "Ubuntu, 'Liberation Sans', Arial, sans-serif"
STROKES = {"centre": (INK, 2.4), "shield": (BRAID, 5.5), "link": (INK, 4.6)}
HOP = 7.0


def write_svg(scene: Scene, title: str, words: str, *, height: int = HEIGHT, legend: bool = True) -> str:
    """Return the scene as a standalone SVG document with title and description.

    legend: of the line widths, where the lines are conductors.
    """
    ordered = sorted(scene.wires, key=lambda wire: list(STROKES).index(wire.conductor) != 1)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}" '
        f'height="{height}" role="img" aria-labelledby="title desc">',
        f'<title id="title">{escape(title)}</title>',
        f'<desc id="desc">{escape(words)}</desc>',
        f'<rect x="0.5" y="0.5" width="{WIDTH - 1}" height="{height - 1}" rx="6" fill="{PAPER}" '
        f'stroke="{EDGE}"/>',
        *(_write_shape(shape) for shape in scene.behind),
        *(_write_wire(wire) for wire in ordered),
        *(
            f'<circle cx="{_format_number(x)}" cy="{_format_number(y)}" r="4.2" fill="{INK}"/>'
            for x, y in find_joints(scene)
        ),
        *(_write_shape(shape) for shape in scene.before),
        f"<g font-family={quoteattr(FONT)}>",
        *(_write_label(label) for label in scene.labels),
        *(_write_legend() if legend else ()),
        "</g>",
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


LEGEND: tuple[tuple[Conductor, str], ...] = (
    ("centre", "centre or wire"),
    ("shield", "shell or shield"),
    ("link", "bridge you add"),
)
_LEGEND_Y = 262.0


def _write_legend() -> list[str]:
    """Draw the legend of the three line widths at the foot of every drawing."""
    parts = []
    for number, (conductor, words) in enumerate(LEGEND):
        x = 14.0 + 128 * number
        parts.append(_write_wire(Wire(((x, _LEGEND_Y), (x + 24, _LEGEND_Y)), conductor)))
        parts.append(_write_label(Label((x + 30, _LEGEND_Y + 4.5), words, "start", 12)))
    return parts


def _write_shape(shape: Shape) -> str:
    attributes = "".join(f" {name}={quoteattr(value)}" for name, value in shape.attributes)
    return f"<{shape.tag}{attributes}/>"


def _write_wire(wire: Wire) -> str:
    colour, width = STROKES[wire.conductor]
    return (
        f'<path d="{_write_path(wire)}" fill="none" stroke="{colour}" stroke-width="{width}" '
        'stroke-linejoin="round" stroke-linecap="round"/>'
    )


def _write_path(wire: Wire) -> str:
    """Return the run of a wire; over a hop it makes a half circle upwards (hops lie on level runs going
    right).
    """
    commands = [f"M{_format_point(wire.points[0])}"]
    for point in wire.points[1:]:
        for x, y in wire.hops:
            if y == point[1]:
                commands.append(
                    f"L{_format_point((x - HOP, y))}A{HOP} {HOP} 0 0 1 {_format_point((x + HOP, y))}"
                )
        commands.append(f"L{_format_point(point)}")
    return "".join(commands)


def _write_label(label: Label) -> str:
    colour = INK if label.tone == "ink" else FAINT
    return (
        f'<text x="{_format_number(label.at[0])}" y="{_format_number(label.at[1])}" '
        f'font-size="{_format_number(label.size)}" fill="{colour}" '
        f'text-anchor="{label.anchor}">{escape(label.text)}</text>'
    )


def _format_point(point: Point) -> str:
    return f"{_format_number(point[0])} {_format_number(point[1])}"


def _format_number(value: float) -> str:
    return f"{value:g}"
