"""Drawings of one device between port 1 and port 2."""

from __future__ import annotations

from measurements.pages.guide.drawings import symbols
from measurements.pages.guide.drawings.scene import Scene
from measurements.pages.guide.drawings.symbols import CENTRE_Y, COLLAR_Y, LEFT_X, LOWER_Y, RIGHT_X, UPPER_Y

BOTH = {"port 1": LEFT_X, "port 2": RIGHT_X}

INPUT, BALANCED = ("centre", "shell"), ("A", "B")

TURNED = "device turned round"


def draw_common_mode(*, turned: bool = False) -> Scene:
    """Return each side's two terminals tied together; the device is one impedance between the port
    centres.
    """
    scene = Scene()
    symbols.draw_analyser(scene, BOTH)
    left, right = (BALANCED, INPUT) if turned else (INPUT, BALANCED)
    symbols.draw_device(scene, TURNED if turned else "device", 128, 144, left=left, right=right)
    for port, terminal, tie in ((LEFT_X, 128, 104), (RIGHT_X, 272, 296)):
        scene.link((terminal, UPPER_Y), (tie, UPPER_Y), (tie, LOWER_Y), (terminal, LOWER_Y))
        scene.wire((port, CENTRE_Y), (port, 84), (tie, 84))
    scene.label((384, 26), "do not plug in", "end", size=14)
    join_shields(scene)
    return scene


def draw_straight(*, turned: bool = False) -> Scene:
    """Return in at one side, out at the other, each terminal pair on the coax of its port."""
    scene = Scene()
    symbols.draw_analyser(scene, BOTH)
    left, right = (BALANCED, INPUT) if turned else (INPUT, BALANCED)
    symbols.draw_device(scene, TURNED if turned else "device", 128, 144, left=left, right=right)
    connect_to_port_1(scene, 128)
    connect_to_port_2(scene, 272)
    return scene


def draw_series_resistor() -> Scene:
    """Return a resistor between the far terminal A and the port-2 centre."""
    scene = Scene()
    symbols.draw_analyser(scene, BOTH)
    symbols.draw_device(scene, "device", 128, 144)
    connect_to_port_1(scene, 128)
    scene.wire((272, UPPER_Y), (284, UPPER_Y))
    symbols.draw_resistor(scene, "Rs", (284, UPPER_Y), (344, UPPER_Y))
    scene.wire((344, UPPER_Y), (RIGHT_X, UPPER_Y), (RIGHT_X, CENTRE_Y))
    _connect_shield_to_port_2(scene, 272)
    scene.label((392, 26), "Rs = (ratio − 1) × 50 Ω", "end", size=14)
    return scene


def connect_to_port_1(scene: Scene, terminal_x: float) -> None:
    """Join the left pair of a device to the coax of port 1: upper on the centre, lower on the shield."""
    scene.wire((LEFT_X, CENTRE_Y), (LEFT_X, UPPER_Y), (terminal_x, UPPER_Y))
    corner = (LEFT_X + 11 + terminal_x) / 2
    scene.shield((LEFT_X + 11, COLLAR_Y), (corner, COLLAR_Y), (corner, LOWER_Y), (terminal_x, LOWER_Y))


def connect_to_port_2(scene: Scene, terminal_x: float) -> None:
    """Join the right pair of a device to the coax of port 2."""
    scene.wire((RIGHT_X, CENTRE_Y), (RIGHT_X, UPPER_Y), (terminal_x, UPPER_Y))
    _connect_shield_to_port_2(scene, terminal_x)


def join_shields(scene: Scene, *, last_x: float = RIGHT_X) -> None:
    """Draw a strap between the braids of the ports, from port 1 to the port at `last_x`."""
    scene.shield((LEFT_X + 11, COLLAR_Y), (last_x - 11, COLLAR_Y))
    scene.label((200, COLLAR_Y + 21), "shields joined", size=14)


def _connect_shield_to_port_2(scene: Scene, terminal_x: float) -> None:
    corner = (RIGHT_X - 11 + terminal_x) / 2
    scene.shield((RIGHT_X - 11, COLLAR_Y), (corner, COLLAR_Y), (corner, LOWER_Y), (terminal_x, LOWER_Y))


# Drawings of two devices back to back: high sides joined, the low sides on the two ports.


def draw_back_to_back(first: str, second: str) -> Scene:
    """Return `first` on port 1, `second` mirrored on port 2; A joined with A, B with B."""
    scene = Scene()
    symbols.draw_analyser(scene, BOTH)
    symbols.draw_device(scene, first, 88, 96)
    symbols.draw_device(scene, second, 216, 96, left=("A", "B"), right=("centre", "shell"), name_end=True)
    connect_to_port_1(scene, 88)
    connect_to_port_2(scene, 312)
    scene.link((184, UPPER_Y), (216, UPPER_Y))
    scene.link((184, LOWER_Y), (216, LOWER_Y))
    scene.label((200, 158), "high sides joined", size=14)
    return scene
