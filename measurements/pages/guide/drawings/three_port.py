"""Drawings of the balance test: each balanced terminal against shield, whatever is not swept in 50 ohm."""

from __future__ import annotations

from measurements.pages.guide.drawings import symbols
from measurements.pages.guide.drawings.scene import Scene
from measurements.pages.guide.drawings.symbols import CENTRE_Y, COLLAR_Y, LEFT_X, LOWER_Y, RIGHT_X, UPPER_Y
from measurements.pages.guide.drawings.two_port import BOTH, join_shields

_FIFTY = "50 Ω"


def draw_first_terminal() -> Scene:
    """Return port 2 on A, B in 50 ohm to shield."""
    scene = _draw_unbalanced_on_port_1(BOTH)
    join_shields(scene)
    scene.wire((272, UPPER_Y), (RIGHT_X, UPPER_Y), (RIGHT_X, CENTRE_Y))
    scene.wire((272, LOWER_Y), (298, LOWER_Y))
    symbols.draw_resistor(scene, "50 ohm", (298, LOWER_Y), (298, COLLAR_Y))
    scene.label((311, 134), _FIFTY, "start", size=14)
    return scene


def draw_second_terminal() -> Scene:
    """Return port 2 on B, A in 50 ohm to shield."""
    scene = _draw_unbalanced_on_port_1(BOTH)
    join_shields(scene)
    scene.wire((272, LOWER_Y), (RIGHT_X, LOWER_Y), (RIGHT_X, CENTRE_Y))
    scene.wire((272, UPPER_Y), (380, UPPER_Y))
    symbols.draw_resistor(scene, "50 ohm", (380, UPPER_Y), (380, COLLAR_Y))
    scene.shield((RIGHT_X + 11, COLLAR_Y), (380, COLLAR_Y))
    scene.label((366, 92), _FIFTY, "end", size=14)
    return scene


def draw_terminal_to_terminal() -> Scene:
    """Return port 1 on A, port 2 on B, the unbalanced side in 50 ohm."""
    scene = Scene()
    symbols.draw_analyser(scene, BOTH)
    symbols.draw_device_from_below(scene, "device")
    join_shields(scene)
    scene.wire((LEFT_X, CENTRE_Y), (LEFT_X, UPPER_Y), (128, UPPER_Y))
    scene.wire((RIGHT_X, CENTRE_Y), (RIGHT_X, UPPER_Y), (272, UPPER_Y))
    scene.wire((178, 110), (178, 131))
    symbols.draw_resistor(scene, "50 ohm", (178, 131), (222, 131))
    scene.shield((222, 110), (222, COLLAR_Y))
    scene.label((166, 136), _FIFTY, "end", size=14)
    return scene


def draw_three_ports() -> Scene:
    """Return port 1 on the unbalanced side, port 2 on A, port 3 on B."""
    second, third = 300.0, 362.0
    scene = _draw_unbalanced_on_port_1({"port 1": LEFT_X, "port 2": second, "port 3": third})
    scene.shield((LEFT_X + 11, COLLAR_Y), (second - 11, COLLAR_Y))
    scene.shield((second + 11, COLLAR_Y), (third - 11, COLLAR_Y))
    scene.label((175, COLLAR_Y + 21), "shields joined", size=14)
    scene.wire((272, UPPER_Y), (second, UPPER_Y), (second, CENTRE_Y))
    scene.wire((272, LOWER_Y), (third, LOWER_Y), (third, CENTRE_Y), hops=((second, LOWER_Y),))
    return scene


def _draw_unbalanced_on_port_1(ports: dict[str, float]) -> Scene:
    scene = Scene()
    symbols.draw_analyser(scene, ports)
    symbols.draw_device(scene, "device", 128, 144)
    scene.wire((LEFT_X, CENTRE_Y), (LEFT_X, UPPER_Y), (128, UPPER_Y))
    scene.shield((92, COLLAR_Y), (92, LOWER_Y), (128, LOWER_Y))
    return scene
