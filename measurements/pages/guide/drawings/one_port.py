"""Drawings of one device on port 1 alone: its far side open, shorted, in its load, or on the antenna."""

from __future__ import annotations

from measurements.pages.guide.drawings import symbols
from measurements.pages.guide.drawings.scene import Scene
from measurements.pages.guide.drawings.symbols import LEFT_X, LOWER_Y, RIGHT_X, UPPER_Y
from measurements.pages.guide.drawings.two_port import connect_to_port_1


def draw_far_open() -> Scene:
    scene = _draw_near_side()
    scene.label((286, 80), "nothing", "start", size=14)
    scene.label((286, 98), "attached", "start", size=14)
    return scene


def draw_far_short() -> Scene:
    scene = _draw_near_side()
    scene.link((272, UPPER_Y), (294, UPPER_Y), (294, LOWER_Y), (272, LOWER_Y))
    scene.label((306, 80), "short", "start", size=14)
    scene.label((306, 98), "link", "start", size=14)
    return scene


def draw_far_load() -> Scene:
    """Return the resistor of ratio x 50 ohm across the balanced side."""
    scene = _draw_near_side()
    scene.wire((272, UPPER_Y), (306, UPPER_Y))
    scene.wire((272, LOWER_Y), (306, LOWER_Y))
    symbols.draw_resistor(scene, "R", (306, UPPER_Y), (306, LOWER_Y))
    scene.label((320, 80), "R = ratio", "start", size=14)
    scene.label((320, 98), "× 50 Ω:", "start", size=14)
    scene.label((320, 116), "50, 200,", "start", size=14)
    scene.label((320, 134), "450 Ω", "start", size=14)
    return scene


def draw_through_device() -> Scene:
    """Return the feed point measured through the device."""
    scene = _draw_near_side()
    symbols.draw_antenna(scene)
    scene.wire((272, UPPER_Y), (316, UPPER_Y))
    scene.wire((272, LOWER_Y), (316, LOWER_Y))
    return scene


def draw_bypassed() -> Scene:
    """Return the same feed point with the device taken out and a plain jumper in its place."""
    scene = Scene()
    _draw_analyser(scene)
    symbols.draw_device_outline(scene)
    symbols.draw_antenna(scene)
    connect_to_port_1(scene, 128)
    scene.link((128, UPPER_Y), (316, UPPER_Y))
    scene.link((128, LOWER_Y), (316, LOWER_Y))
    scene.label((200, 52), "plain jumper", size=14)
    scene.label((200, 89), "device taken out", size=14, tone="faint")
    return scene


def _draw_near_side() -> Scene:
    scene = Scene()
    _draw_analyser(scene)
    symbols.draw_device(scene, "device", 128, 144)
    connect_to_port_1(scene, 128)
    return scene


def _draw_analyser(scene: Scene) -> None:
    symbols.draw_analyser(scene, {"port 1": LEFT_X}, idle={"port 2": RIGHT_X})
