"""A release decides again about every design that anything changed of, and about no other."""

from __future__ import annotations

import random

import pytest

from measurements.models import (
    Contributor,
    DecisionMark,
    Design,
    Device,
    Release,
    Result,
    Test,
    group_settings,
)
from measurements.services.designs import merging
from measurements.services.releases import decision_marks, evidence_changes, releases
from measurements.services.tests import tests
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def released():
    """Two designs with evidence, released: (changed one, the other)."""
    keys = factories.evidence(4), factories.evidence(3, turns=10)
    releases.make_release(rng=random.Random(1))
    assert changed() == set()
    return keys


def changed() -> set[str]:
    noted = evidence_changes.get_noted_changes(Release.objects.order_by("-number").first())
    planned = decision_marks.plan_decisions(group_settings.get_release_thresholds(), noted)
    designs = [design for group in planned.groups for design in group]
    return set(Design.objects.filter(pk__in=designs).values_list("key", flat=True))


def first_test(design: str) -> Test:
    return (
        Test.objects.select_related("device__contributor__member").filter(device__design__key=design).first()
    )


def withdraw(design: str) -> None:
    test = first_test(design)
    tests.withdraw_test(by=factories.member(test.device.contributor.member.name), test=test.key)


CHANGES = {
    "another test": lambda design: factories.evidence(1, first=7),
    "a test withdrawn": withdraw,
    "a test left out": lambda design: Test.objects.filter(pk=first_test(design).pk).update(
        excluded_reason="x"
    ),
    "a newer result": lambda design: Result.objects.filter(test=first_test(design)).update(
        counts_as_evidence=False
    ),
    "a device of somebody else": lambda design: Device.objects.filter(pk=first_test(design).device_id).update(
        contributor=Contributor.objects.create(guest_name="G")
    ),
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_design_is_decided_again_after(released, change):
    CHANGES[change](released[0])
    assert changed() == {released[0]}


def test_a_device_that_moves_changes_both_designs(released):
    moved = first_test(released[0]).device_id
    Device.objects.filter(pk=moved).update(design=Design.objects.get(key=released[1]))
    assert changed() == set(released)


def test_other_thresholds_change_everything(released, settings):
    settings.BENCHNIGHT_MIN_CHANGES = 3
    assert changed() == set(released)


def test_what_was_settled_is_counted_as_what_it_is(released):
    few = factories.evidence(2, turns=14)
    made = releases.make_release(rng=random.Random(2))
    assert (made.replaced, made.kept, made.empty) == (0, 2, 1)
    withdraw(released[1])
    made = releases.make_release(rng=random.Random(3))
    assert (made.kept, made.withheld, made.empty) == (1, 1, 1)
    made = releases.make_release(rng=random.Random(4))  # nothing changed: decided from the marks alone
    assert (made.kept, made.withheld, made.empty) == (1, 1, 1)
    assert DecisionMark.objects.get(design__key=few).action == "empty"


def test_without_marks_the_outcome_is_the_same(released):
    withdraw(released[0])
    factories.evidence(2, first=9)
    DecisionMark.objects.all().delete()
    assert changed() == set(released)
    assert releases.make_release(rng=random.Random(5)).replaced == 1
    assert changed() == set()


def test_designs_that_share_a_past_are_always_decided_together(released):
    steward = factories.member("stella", "steward")
    merging.merge_designs(by=steward, design=released[0], into=released[1])
    assert changed() == set(released)
    releases.make_release(rng=random.Random(6))
    assert changed() == set(released)
