"""Which pins of a drawing are joined, found from where its wires run.

Two wires join where an end of one lies anywhere on the other. Wires that only cross do not join.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from measurements.pages.guide.drawings.scene import Point, Scene, Wire

NEAR = 0.01  # of a unit; coordinates are written by hand and meet exactly


def find_nets(scene: Scene) -> set[frozenset[str]]:
    """Return the pins in groups: pins of one group are the same electrical node; a pin alone is a group of
    one.
    """
    groups: list[tuple[set[int], set[str]]] = []
    for members in _joined_wires(scene.wires):
        pins = {
            name
            for name, at in scene.pins.items()
            if any(_is_on_wire(at, scene.wires[index]) for index in members)
        }
        groups.append((members, pins))
    found = {frozenset(pins) for _, pins in groups if pins}
    wired = {name for group in found for name in group}
    return found | {frozenset({name}) for name in scene.pins if name not in wired}


def find_joints(scene: Scene) -> list[Point]:
    """Find where three or more wire ends, or an end and the run of another wire, meet: a dot is drawn
    there.
    """
    ends = [end for wire in scene.wires for end in (wire.points[0], wire.points[-1])]
    found: list[Point] = []
    for end in ends:
        branches = sum(_count_branches(end, wire) for wire in scene.wires)
        if branches >= 3 and not any(_are_same_point(end, other) for other in found):
            found.append(end)
    return found


def _joined_wires(wires: Sequence[Wire]) -> list[set[int]]:
    """Return indices of wires in connected groups."""
    groups: list[set[int]] = []
    for index, wire in enumerate(wires):
        touching = [group for group in groups if any(_do_wires_touch(wire, wires[other]) for other in group)]
        merged = {index}.union(*touching)
        groups = [group for group in groups if group not in touching] + [merged]
    return groups


def _do_wires_touch(first: Wire, second: Wire) -> bool:
    return any(_is_on_wire(end, second) for end in (first.points[0], first.points[-1])) or any(
        _is_on_wire(end, first) for end in (second.points[0], second.points[-1])
    )


def _count_branches(at: Point, wire: Wire) -> int:
    """Count the directions in which the wire leaves a point: 1 at its end, 2 along its run, 0 elsewhere."""
    if any(_are_same_point(at, end) for end in (wire.points[0], wire.points[-1])):
        return 1
    return 2 if _is_on_wire(at, wire) else 0


def _is_on_wire(at: Point, wire: Wire) -> bool:
    return any(_is_on_segment(at, start, end) for start, end in pairwise(wire.points))


def _is_on_segment(at: Point, start: Point, end: Point) -> bool:
    along = (end[0] - start[0], end[1] - start[1])
    from_start = (at[0] - start[0], at[1] - start[1])
    length = (along[0] ** 2 + along[1] ** 2) ** 0.5
    aside = abs(along[0] * from_start[1] - along[1] * from_start[0]) / length
    share = (along[0] * from_start[0] + along[1] * from_start[1]) / length
    return aside <= NEAR and -NEAR <= share <= length + NEAR


def _are_same_point(first: Point, second: Point) -> bool:
    return abs(first[0] - second[0]) <= NEAR and abs(first[1] - second[1]) <= NEAR
