"""Drawings of the four things that an analyser is shown at the clips when it is calibrated."""

from __future__ import annotations

from measurements.pages.guide.drawings import jig, symbols
from measurements.pages.guide.drawings.scene import Scene
from measurements.pages.guide.drawings.symbols import LEFT_X, LOWER_Y, RIGHT_X, UPPER_Y
from measurements.pages.guide.drawings.two_port import connect_to_port_1

_CLIPS_X, _FAR_X = 150.0, 210.0


def draw_calibration_open() -> Scene:
    """Return the two clips of port 1 with nothing between."""
    scene = _draw_clips()
    scene.label((236, 89), "nothing between", "start", size=14)
    return scene


def draw_calibration_short() -> Scene:
    """Return the two clips on one short wire."""
    scene = _draw_clips()
    scene.link((_CLIPS_X, UPPER_Y), (_FAR_X, UPPER_Y), (_FAR_X, LOWER_Y), (_CLIPS_X, LOWER_Y))
    scene.label((236, 89), "short wire", "start", size=14)
    return scene


def draw_calibration_load() -> Scene:
    """Return the two clips on 50 ohm."""
    scene = _draw_clips()
    scene.wire((_CLIPS_X, UPPER_Y), (_FAR_X, UPPER_Y))
    scene.wire((_CLIPS_X, LOWER_Y), (_FAR_X, LOWER_Y))
    symbols.draw_resistor(scene, "50 ohm", (_FAR_X, UPPER_Y), (_FAR_X, LOWER_Y))
    scene.label((236, 89), "50 Ω", "start", size=14)
    return scene


def draw_calibration_through() -> Scene:
    """Return the centre clips of both ports on each other, the shields joined."""
    return jig.draw_jig_closed()


def _draw_clips() -> Scene:
    scene = Scene()
    symbols.draw_analyser(scene, {"port 1": LEFT_X}, idle={"port 2": RIGHT_X})
    connect_to_port_1(scene, _CLIPS_X)
    for name, y in (("clip 1", UPPER_Y), ("clip 2", LOWER_Y)):
        symbols.draw_clip(scene, (_CLIPS_X, y), facing="right")
        scene.pins[name] = (_CLIPS_X, y)
    return scene
