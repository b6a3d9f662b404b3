"""Every page asks the database equally often for 2 and for 20 of what it shows.

The ground is `visits`: a new page is counted without anybody adding it here.
"""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from measurements.services.releases import releases
from tests import club, factories
from tests.pages.full_group import House, furnish
from tests.pages.visits import OTHERS, VISITS, Visit

MOST_QUERIES = 60
STYLES = ("bifilar", "twisted_pair", "parallel_wires", "single", "trifilar")


def addresses(house: House) -> dict[tuple[str, str], Visit]:
    """Every visit by reader and address."""
    visits = [visit for each in VISITS.values() for visit in each] + list(OTHERS)
    return {(visit.who, visit.address.format(**house.keys)): visit for visit in visits}


def counts(house: House) -> dict[tuple[str, str], int]:
    found = {}
    for (who, address), visit in addresses(house).items():
        with CaptureQueriesContext(connection) as captured:
            answer = house.clients[who].get(address)
        assert answer.status_code == visit.status, (who, address)
        found[who, address] = len(captured)
    return found


def more(house: House, start: int, count: int) -> None:
    """More of everything: designs with evidence near and far, devices, tests, guests and their devices."""
    member, operator, night = house.viewers["member"], house.viewers["operator"], house.keys["night"]
    for number in range(start, start + count):
        design = factories.evidence(3, first=3 * number, **_wound(number))
        device = factories.device(member, design, tag=f"M-{number}")
        for seed in range(2):
            factories.record(member, device, factories.choke_s2p(seed=90 * number + seed, points=31))
        guest = club.guest(operator, night, f"Guest {number}")
        brought = club.guests_device(operator, night, guest, tag=f"B-{number}")
        club.record(operator, brought, night, factories.choke_s2p(seed=50 + number, points=31))
    releases.make_release()


def _wound(number: int) -> dict[str, object]:
    """Of the family of the first design where odd, of that of its mix where even."""
    if number % 2 == 0:
        return {"turns": 20 + number}
    return {"turns": 12, "style": STYLES[number // 2 % len(STYLES)], "split": number // 2 >= 10}


@pytest.fixture
def house(reference_data: None) -> House:
    return furnish()


def test_as_many_for_2_as_for_20(house: House):
    more(house, 10, 2)
    counts(house)  # what is kept in memory is there from now on
    few = counts(house)
    more(house, 12, 18)
    counts(house)
    many = counts(house)
    grown = {key: (few[key], many[key]) for key in few if many[key] > few[key]}
    assert grown == {}
    assert {key: count for key, count in many.items() if count > MOST_QUERIES} == {}
