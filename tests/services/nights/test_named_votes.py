"""Confirmed and claimed guests in the private ledger: counts only fall, and nobody becomes new by a claim."""

from __future__ import annotations

import random
from collections import defaultdict

import pytest

from measurements.models import Cell, PublishedVote, Result
from measurements.services.devices import contributors
from measurements.services.nights import guests, persons
from measurements.services.releases import releases
from tests import club, factories

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def by(reference_data):
    return club.operator()


@pytest.fixture
def night(by) -> str:
    return club.night(by, calibrated=True)


def members(design: str, *names: str) -> None:
    for name in names:
        who = factories.member(name)
        tag = f"{name}-{design}"
        factories.record(
            who,
            factories.device(who, design, tag),
            factories.choke_s2p(2500 + 90 * len(name), seed=hash_of(name)),
        )


def hash_of(name: str) -> int:
    return sum(map(ord, name))


def guest_with_test(by, night: str, name: str, design: str) -> str:
    attendee = club.guest(by, night, name)
    device = club.guests_device(by, night, attendee, design, tag=f"{name}-1")
    club.record(by, device, night, factories.choke_s2p(2700, seed=hash_of(name)), calibrated="true")
    return attendee


def release() -> None:
    releases.make_release(rng=random.Random(7), files=False)


def persons_by_cell() -> dict[object, int]:
    found: dict[object, set[str]] = defaultdict(set)
    for cell, who in PublishedVote.objects.values_list("cell_id", "contributor_key"):
        found[cell].add(who)
    return {cell: len(who) for cell, who in found.items()}


def claim(by, night: str, attendee: str, name: str) -> None:
    code = guests.issue_claim_code(by=by, night=night, contributor_key=attendee)
    guests.claim_guest_devices(by=factories.member(name), code=code)


@pytest.mark.parametrize("claimer", ["Ada", "Newcomer"])
@pytest.mark.parametrize("unconfirmed", [1, 2])
def test_a_claim_of_an_unconfirmed_guest_raises_no_count(by, night, claimer, unconfirmed):
    design = factories.design(by)
    members(design, "Ada", "Bea")
    came = [guest_with_test(by, night, f"Guest {n}", design) for n in range(unconfirmed)]
    release()
    before = persons_by_cell()
    assert set(before.values()) == {3}
    claim(by, night, came[0], claimer)
    after = persons_by_cell()
    assert all(after[cell] <= before[cell] for cell in before)
    # one who was there already takes the guest's place, and only where no other guest is behind it
    expected = 2 if claimer == "Ada" and unconfirmed == 1 else 3
    assert set(after.values()) == {expected}


def test_confirming_guests_raises_no_count_of_what_is_published(by, night):
    design = factories.design(by)
    members(design, "Ada", "Bea")
    for n in range(2):
        guest_with_test(by, night, f"Guest {n}", design)
    release()
    before = persons_by_cell()
    persons.confirm_guests(by=factories.member("Stella", "steward"), night=night)
    assert persons_by_cell() == before


def test_who_claims_an_unconfirmed_guest_that_was_published_joins_nothing(by, night):
    """Three unnamed guests stood in the set as one. Each claims, and tests another device of the design."""
    design = factories.design(by)
    members(design, "Ada", "Bea")
    came = [guest_with_test(by, night, f"Guest {n}", design) for n in range(3)]
    release()
    for n, attendee in enumerate(came):
        claim(by, night, attendee, f"Claimer {n}")
    # the old devices vote no more
    Result.objects.filter(test__device__tag__startswith="Guest").update(counts_as_evidence=False)
    members(design, "Claimer 0", "Claimer 1", "Claimer 2")
    release()
    assert Cell.objects.filter(design__key=design, first_release=2).count() == 0
    members(design, "Dee", "Eve", "Gus")
    release()
    assert Cell.objects.filter(design__key=design, first_release=3).count() == 1


def test_joined_persons_are_one_in_the_ledger_of_pools_too(by, night):
    design = factories.design(by)
    members(design, "Ada", "Bea", "Cyn", "Dee")
    release()
    people = {
        row.member.name: row
        for row in contributors.Contributor.objects.filter(member__name__in=("Ada", "Bea"))
    }
    contributors.join_persons(people["Ada"], people["Bea"])
    assert set(persons_by_cell().values()) == {3}
