"""A release decides about every design that counts, and about those that share a past together."""

from __future__ import annotations

import random
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from measurements.disclosure import merged_designs
from measurements.disclosure.release_rule import LIFE_DAYS, CellDecision
from measurements.disclosure.votes import choose_votes
from measurements.errors import BenchnightError
from measurements.models import Cell, Design, Device, Release, Result, Test
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


def keep_private(design: str) -> None:
    test = first_test(design)
    owner = factories.member(test.device.contributor.member.name)
    tests.set_privacy(by=owner, test=test.key, private=True)


CHANGES = {
    "a test withdrawn": withdraw,
    "a test left out": lambda design: Test.objects.filter(pk=first_test(design).pk).update(
        excluded_reason="x"
    ),
    "a newer result": lambda design: Result.objects.filter(test=first_test(design)).update(
        counts_as_evidence=False
    ),
    "a test kept private": lambda design: keep_private(design),
    "rows that are deleted past Django": lambda design: Device.objects.filter(
        pk=first_test(design).device_id
    ).delete(),
}


@pytest.mark.parametrize("change", CHANGES)
def test_what_takes_a_vote_away_darkens_nothing_but_for_cause(released, change):
    """Three people are behind the second design. One leaves: its cell stays. One is excluded for cause: it
    ends.
    """
    CHANGES[change](released[1])
    made = releases.make_release(rng=random.Random(2))
    if change == "a test left out":
        assert (made.replaced, made.kept, made.withheld) == (0, 1, 1)
        assert Cell.objects.get(last_release=None).design.key == released[0]
    else:
        assert (made.replaced, made.kept, made.withheld) == (0, 2, 0)


@pytest.mark.parametrize("change", CHANGES)
def test_who_left_is_in_nothing_that_is_published_next(released, change):
    gone = first_test(released[1]).key
    CHANGES[change](released[1])
    factories.evidence(3, first=20, turns=10)
    assert releases.make_release(rng=random.Random(2)).replaced == 1
    (cell,) = Cell.objects.filter(design__key=released[1], last_release=None)
    assert cell.contributors == 5 and not cell.votes.filter(test_key=gone).exists()


def test_a_cell_ends_with_its_life(released):
    withdraw(released[1])
    Release.objects.update(made_at=timezone.now() - timedelta(days=LIFE_DAYS + 1))
    made = releases.make_release(rng=random.Random(2))
    # the first design publishes the very same set again; the second cannot, because one of three left
    assert (made.replaced, made.kept, made.withheld) == (1, 0, 1)


def test_one_account_that_toggles_reads_no_newcomer(released):
    """Newcomers come one at a time while person-0 withdraws and uploads in turn: nothing is published
    anew.
    """
    attacker = factories.member("person-0")
    before = Cell.objects.get(design__key=released[0], last_release=None).pk
    for number in range(4):
        test = Test.objects.filter(
            device__design__key=released[0], device__contributor__member__name="person-0"
        ).first()
        if test is not None:
            tests.withdraw_test(by=attacker, test=test.key)
        else:
            device = factories.device(attacker, released[0], tag=f"again-{number}")
            factories.record(attacker, device, factories.choke_s2p(seed=300 + number))
        if number < 2:  # two newcomers are too few together with anything the attacker does
            factories.evidence(1, first=30 + number)
        releases.make_release(rng=random.Random(number))
        assert Cell.objects.get(design__key=released[0], last_release=None).pk == before
    factories.evidence(1, first=40)
    assert releases.make_release(rng=random.Random(9)).replaced == 1


def test_a_release_that_the_auditor_refuses_is_taken_back(released, monkeypatch):
    factories.evidence(1, first=30)
    monkeypatch.setattr(merged_designs, "decide_cell", publish_all)
    with pytest.raises(BenchnightError) as caught:
        releases.make_release(rng=random.Random(2))
    assert caught.value.code == "release.audit"
    assert Release.objects.count() == 1 and Cell.objects.filter(last_release=None).count() == 2


def publish_all(_published, _past, candidates, thresholds, **_given):
    votes = choose_votes(candidates, thresholds.votes_per_contributor)
    return CellDecision("replace", votes, "enough_joiners")


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
    assert (made.kept, made.withheld, made.empty) == (2, 0, 1)


def test_figures_are_read_of_designs_that_change_only(released):
    with CaptureQueriesContext(connection) as captured:
        releases.make_release(rng=random.Random(2), files=False)
    assert not [query["sql"] for query in captured if "evidence_curve" in query["sql"]]
    factories.evidence(3, first=7)
    with CaptureQueriesContext(connection) as captured:
        assert releases.make_release(rng=random.Random(3), files=False).replaced == 1
    assert len([query for query in captured if "evidence_curve" in query["sql"]]) == 1
