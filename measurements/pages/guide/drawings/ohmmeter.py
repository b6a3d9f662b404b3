"""Drawings of an ohmmeter between two terminals of a device that is joined to nothing else."""

from __future__ import annotations

from measurements.pages.guide.drawings import symbols
from measurements.pages.guide.drawings.scene import Scene
from measurements.pages.guide.drawings.svg import INK, PAPER
from measurements.pages.guide.drawings.symbols import LOWER_Y, UPPER_Y

_METER_Y = 206.0


def draw_through_reading() -> Scene:
    """Return the ohmmeter from the coax centre through the device to terminal A."""
    scene = _draw_meter_and_device()
    scene.wire((176, _METER_Y), (176, 170), (60, 170), (60, UPPER_Y), (128, UPPER_Y))
    scene.wire((224, _METER_Y), (224, 170), (340, 170), (340, UPPER_Y), (272, UPPER_Y))
    return scene


def draw_across_reading() -> Scene:
    """Return the ohmmeter between the coax centre and the shell."""
    scene = _draw_meter_and_device()
    scene.wire((176, _METER_Y), (176, 184), (40, 184), (40, UPPER_Y), (128, UPPER_Y))
    scene.wire((224, _METER_Y), (224, 160), (84, 160), (84, LOWER_Y), (128, LOWER_Y))
    return scene


def _draw_meter_and_device() -> Scene:
    scene = Scene()
    symbols.draw_device(scene, "device", 128, 144)
    scene.shape("rect", x=140, y=_METER_Y, width=120, height=36, rx=7, fill=PAPER, stroke=INK, stroke_width=2)
    scene.label((200, _METER_Y + 24), "ohmmeter")
    symbols.draw_terminal(scene, "ohmmeter 1", (176, _METER_Y))
    symbols.draw_terminal(scene, "ohmmeter 2", (224, _METER_Y))
    return scene
