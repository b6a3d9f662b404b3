"""A release decides about every design that counts, and about those that share a past together."""

from __future__ import annotations

import random

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from measurements.models import Cell, Design, Device, Result, Test
from measurements.services.designs import merging
from measurements.services.releases import design_decisions, releases
from measurements.services.tests import tests
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def released():
    """Two designs with evidence, released: (changed one, the other)."""
    keys = factories.evidence(4), factories.evidence(3, turns=10)
    releases.make_release(rng=random.Random(1))
    return keys


def groups() -> list[set[str]]:
    """Keys of the designs that the next release decides about together."""
    keys = dict(Design.objects.values_list("pk", "key"))
    found = design_decisions.list_design_groups(design_decisions.get_merged_designs())
    return [{keys[design] for design in group} for group in found]


def first_test(design: str) -> Test:
    return (
        Test.objects.select_related("device__contributor__member").filter(device__design__key=design).first()
    )


def withdraw(design: str) -> None:
    test = first_test(design)
    tests.withdraw_test(by=factories.member(test.device.contributor.member.name), test=test.key)


CHANGES = {
    "a test withdrawn": withdraw,
    "a test left out": lambda design: Test.objects.filter(pk=first_test(design).pk).update(
        excluded_reason="x"
    ),
    "a newer result": lambda design: Result.objects.filter(test=first_test(design)).update(
        counts_as_evidence=False
    ),
    "rows that are deleted past Django": lambda design: Device.objects.filter(
        pk=first_test(design).device_id
    ).delete(),
}


@pytest.mark.parametrize("change", CHANGES)
def test_whatever_takes_a_vote_away_reaches_the_next_release(released, change):
    """Three people stand behind the second design: without one of them its cell has to end."""
    CHANGES[change](released[1])
    made = releases.make_release(rng=random.Random(2))
    assert (made.replaced, made.kept, made.withheld) == (0, 1, 1)
    assert Cell.objects.get(last_release=None).design.key == released[0]


def test_designs_that_nothing_joins_are_decided_alone(released):
    assert sorted(groups(), key=sorted) == sorted([{released[0]}, {released[1]}], key=sorted)


def test_a_device_that_moves_joins_both_designs(released):
    moved = first_test(released[0]).device_id
    Device.objects.filter(pk=moved).update(design=Design.objects.get(key=released[1]))
    assert groups() == [set(released)]


def test_merged_designs_are_decided_together(released):
    steward = factories.member("stella", "steward")
    merging.merge_designs(by=steward, design=released[0], into=released[1])
    assert groups() == [set(released)]
    releases.make_release(rng=random.Random(6))
    assert groups() == [set(released)]


def test_every_design_is_counted_as_what_it_is(released):
    factories.evidence(2, turns=14)
    made = releases.make_release(rng=random.Random(2))
    assert (made.replaced, made.kept, made.empty) == (0, 2, 1)
    withdraw(released[1])
    made = releases.make_release(rng=random.Random(3))
    assert (made.kept, made.withheld, made.empty) == (1, 1, 1)
    made = releases.make_release(rng=random.Random(4))
    assert (made.kept, made.withheld, made.empty) == (1, 1, 1)


def test_figures_are_read_of_designs_that_change_only(released):
    with CaptureQueriesContext(connection) as captured:
        releases.make_release(rng=random.Random(2), files=False)
    assert not [query["sql"] for query in captured if "evidence_curve" in query["sql"]]
    factories.evidence(3, first=7)
    with CaptureQueriesContext(connection) as captured:
        assert releases.make_release(rng=random.Random(3), files=False).replaced == 1
    assert len([query for query in captured if "evidence_curve" in query["sql"]]) == 1
