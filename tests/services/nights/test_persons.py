"""Who counts as a person: accounts, guests whom a steward confirmed, all others together as one."""

from __future__ import annotations

import random

import pytest

from measurements.models import AuditEntry, Contributor
from measurements.services.devices import contributors
from measurements.services.nights import guests, persons
from tests import club, factories
from tests.services.nights.test_nights import refused

pytestmark = pytest.mark.usefixtures("reference_data")


def keys() -> dict[str, str]:
    """Person key by name, through the expression; it agrees with the function."""
    rows = Contributor.objects.annotate(person_key=contributors.build_person_key()).select_related("member")
    found = {(row.member.name if row.member else row.guest_name): row.person_key for row in rows}
    assert all(contributors.get_person_key(row) == row.person_key for row in rows)
    return found


@pytest.fixture
def by(reference_data):
    return club.operator()


@pytest.fixture
def steward():
    return factories.member("Stella", "steward")


@pytest.fixture
def night(by) -> str:
    return club.night(by)


def test_two_invented_guests_are_one_person_and_confirmed_ones_are_two(by, steward, night):
    first, second = club.guest(by, night, "Gwenna"), club.guest(by, night, "Hedda")
    assert set(keys().values()) == {contributors.UNCONFIRMED}
    refused("account.stewards_only", persons.confirm_guests, by=by, night=night)
    assert persons.confirm_guests(by=steward, night=night, attendees=[first]) == 1
    assert len(set(keys().values())) == 2 and keys()["Hedda"] == contributors.UNCONFIRMED
    assert persons.confirm_guests(by=steward, night=night) == 1
    assert len(set(keys().values())) == 2 and contributors.UNCONFIRMED not in keys().values()
    assert AuditEntry.objects.filter(action="guest.confirm", actor="Stella").count() == 2
    refused("night.nobody", persons.confirm_guests, by=steward, night=night, attendees=[first, "x"])
    assert second


def test_a_guest_on_three_nights_is_one_record(by, steward):
    for number in range(3):
        night = club.night(by)
        guests.add_attendee(by=by, night=night, name="Gwenna", same_person=True if number else None)
    persons.confirm_guests(by=steward, night=night)
    assert len(keys()) == 1


def test_an_account_and_the_guest_who_claims_are_one_person(by, steward, night):
    ada = factories.member("Ada")
    factories.device(ada)
    guest = club.guest(by, night)
    persons.confirm_guests(by=steward, night=night)
    assert len(set(keys().values())) == 2
    code = guests.issue_claim_code(by=by, night=night, contributor_key=guest)
    guests.claim_guest_devices(by=ada, code=code)
    assert len(keys()) == 1


def test_joining_makes_one_person_and_asks_for_a_confirmed_guest(by, steward, night):
    factories.device(factories.member("Ada"))
    club.guest(by, night, "A. Smith")
    join = {"first": "Ada", "second": "A. Smith"}
    refused("account.stewards_only", persons.join_by_name, by=by, **join)
    refused("person.unconfirmed", persons.join_by_name, by=steward, **join)
    persons.confirm_guests(by=steward, night=night)
    persons.join_by_name(by=steward, **join)
    assert len(set(keys().values())) == 1 and keys()["Ada"] == Contributor.objects.get(member__name="Ada").key
    refused("person.unknown", persons.join_by_name, by=steward, first="Ada", second="Nobody")


@pytest.mark.parametrize("seed", range(5))
def test_joining_only_ever_lowers_the_count_of_any_group(by, steward, night, seed):
    """Property over random joins: no subset of contributors becomes more persons. (Own simulation.)"""
    rng = random.Random(seed)
    for number in range(4):
        factories.device(factories.member(f"M{number}"))
        club.guest(by, night, f"G{number}")
    some = [row for row in persons_list(night) if rng.random() < 0.6]
    persons.confirm_guests(by=steward, night=night, attendees=some)
    groups = [rng.sample(sorted(keys()), rng.randint(1, 8)) for _ in range(60)]
    before = keys()
    for _ in range(6):
        first, second = rng.sample(sorted(before), 2)
        if contributors.UNCONFIRMED in (before[first], before[second]):
            continue
        persons.join_by_name(by=steward, first=first, second=second)
        after = keys()
        assert after[first] == after[second]
        for group in groups:
            assert len({after[name] for name in group}) <= len({before[name] for name in group})
        before = after


def persons_list(night: str) -> list[str]:
    from measurements.models import NightContributor

    return list(NightContributor.objects.filter(night__key=night).values_list("key", flat=True))
