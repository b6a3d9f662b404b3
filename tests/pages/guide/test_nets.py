"""What touches is joined, what only crosses is not."""

from __future__ import annotations

from measurements.pages.guide.drawings.nets import find_joints, find_nets
from measurements.pages.guide.drawings.scene import Scene


def scene(*wires, **pins) -> Scene:
    made = Scene(pins=dict(pins))
    for points in wires:
        made.wire(*points)
    return made


def test_ends_that_meet_are_joined():
    made = scene([(0, 0), (10, 0)], [(10, 0), (10, 10), (20, 10)], a=(0, 0), b=(20, 10), c=(5, 5))
    assert find_nets(made) == {frozenset("ab"), frozenset("c")}
    assert find_joints(made) == []  # two ends make no dot


def test_an_end_on_the_run_of_another_is_joined_and_dotted():
    made = scene([(0, 0), (20, 0)], [(10, 0), (10, 30)], a=(0, 0), b=(20, 0), c=(10, 30))
    assert find_nets(made) == {frozenset("abc")}
    assert find_joints(made) == [(10, 0)]


def test_wires_that_cross_are_not_joined():
    made = scene([(0, 0), (20, 0)], [(10, -10), (10, 10)], a=(0, 0), b=(10, 10))
    assert find_nets(made) == {frozenset("a"), frozenset("b")}
    assert find_joints(made) == []


def test_three_ends_make_one_dot():
    made = scene([(0, 0), (5, 5)], [(10, 0), (5, 5)], [(5, 9), (5, 5)], a=(0, 0), b=(5, 9))
    assert find_joints(made) == [(5, 5)]
    assert find_nets(made) == {frozenset("ab")}


def test_a_late_wire_joins_groups_that_were_apart():
    made = scene([(0, 0), (5, 0)], [(10, 0), (15, 0)], [(5, 0), (10, 0)], a=(0, 0), b=(15, 0))
    assert find_nets(made) == {frozenset("ab")}


def test_a_miss_by_one_unit_is_a_miss():
    made = scene([(0, 0), (10, 0)], [(11, 0), (20, 0)], a=(0, 0), b=(20, 0))
    assert find_nets(made) == {frozenset("a"), frozenset("b")}
