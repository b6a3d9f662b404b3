"""Drawings of the jig alone, and of readings taken off a screen."""

from __future__ import annotations

from measurements.pages.guide.drawings import symbols
from measurements.pages.guide.drawings.scene import Scene
from measurements.pages.guide.drawings.svg import FAINT, INK, PAPER
from measurements.pages.guide.drawings.symbols import CENTRE_Y, LEFT_X, RIGHT_X
from measurements.pages.guide.drawings.two_port import BOTH, join_shields

_LEADS_Y = 84.0


def draw_jig_closed() -> Scene:
    """Return the two clips on each other, nothing between."""
    scene = _draw_leads(200, 200)
    scene.label((200, 64), "clips joined")
    return scene


def draw_jig_open() -> Scene:
    """Return the clips where the device would be held, and no device."""
    scene = _draw_leads(128, 272)
    symbols.draw_device_outline(scene)
    scene.label((200, 89), "nothing attached")
    return scene


def draw_jig_linked() -> Scene:
    """Return the clips where the device would be held, and the shortest link between them."""
    scene = _draw_leads(128, 272)
    symbols.draw_device_outline(scene)
    scene.link((128, _LEADS_Y), (272, _LEADS_Y))
    scene.label((200, 72), "shortest link")
    return scene


def draw_screen() -> Scene:
    """Return a marker on the analyser's screen and the two numbers that are written down."""
    scene = Scene()
    scene.shape("rect", x=20, y=24, width=214, height=202, rx=9, fill="#eef1f6", stroke=INK, stroke_width=2)
    scene.shape("rect", x=36, y=40, width=182, height=132, rx=3, fill=PAPER, stroke=INK, stroke_width=1.6)
    for y in (73, 106, 139):
        scene.shape("path", d=f"M36 {y}H218", stroke=FAINT, stroke_width=0.8, stroke_dasharray="2 4")
    curve = "M36 72C80 128 108 140 132 124S188 84 218 92"
    scene.shape("path", d=curve, fill="none", stroke=INK, stroke_width=2.6)
    scene.shape("path", d="M127 40V172", stroke="#8a5a00", stroke_width=1.6)
    scene.shape("path", d="M127 127L118 111H136Z", fill="#8a5a00")
    scene.label((127, 204), "analyser")
    scene.shape("rect", x=252, y=64, width=130, height=122, rx=2, fill="#fdf7e6", stroke=INK, stroke_width=2)
    for y, text in ((92, "frequency"), (142, "value")):
        scene.label((317, y), text, size=14, tone="faint")
    for y, text in ((114, "7.1 MHz"), (164, "28.5 dB")):
        scene.label((317, y), text, size=17)
    return scene


def _draw_leads(left_x: float, right_x: float) -> Scene:
    """Return both centre leads as far as the clips, the shields joined."""
    scene = Scene()
    symbols.draw_analyser(scene, BOTH)
    join_shields(scene)
    scene.wire((LEFT_X, CENTRE_Y), (LEFT_X, _LEADS_Y), (left_x, _LEADS_Y))
    scene.wire((RIGHT_X, CENTRE_Y), (RIGHT_X, _LEADS_Y), (right_x, _LEADS_Y))
    symbols.draw_clip(scene, (left_x, _LEADS_Y), facing="right")
    symbols.draw_clip(scene, (right_x, _LEADS_Y), facing="left")
    scene.pins["clip 1"], scene.pins["clip 2"] = (left_x, _LEADS_Y), (right_x, _LEADS_Y)
    return scene
