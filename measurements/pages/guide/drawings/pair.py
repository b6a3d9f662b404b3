"""Drawings of two devices back to back: high sides joined, the low sides on the two ports."""

from __future__ import annotations

from measurements.pages.guide.drawings import symbols
from measurements.pages.guide.drawings.scene import Scene
from measurements.pages.guide.drawings.symbols import LOWER_Y, UPPER_Y
from measurements.pages.guide.drawings.two_port import BOTH, to_port_1, to_port_2


def back_to_back(first: str, second: str) -> Scene:
    """`first` on port 1, `second` mirrored on port 2; A joined with A, B with B."""
    scene = Scene()
    symbols.analyser(scene, BOTH)
    symbols.device(scene, first, 88, 96)
    symbols.device(scene, second, 216, 96, left=("A", "B"), right=("centre", "shield"), name_end=True)
    to_port_1(scene, 88)
    to_port_2(scene, 312)
    scene.link((184, UPPER_Y), (216, UPPER_Y))
    scene.link((184, LOWER_Y), (216, LOWER_Y))
    scene.label((200, 158), "high sides joined", size=14)
    return scene
