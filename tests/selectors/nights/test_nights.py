"""Nights and their devices cost the same number of queries however many there are."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from measurements.selectors.intakes import intakes as intakes_selectors
from measurements.selectors.nights import nights
from measurements.selectors.tests import tests
from measurements.selectors.upkeep import listed_devices
from measurements.services.intakes import intakes as intakes_services
from measurements.services.uploads.uploads import Upload
from tests import club, factories

pytestmark = pytest.mark.usefixtures("reference_data")


def added(by, night, design, first: int, count: int) -> None:
    for number in range(first, first + count):
        device = club.guests_device(
            by, night, club.guest(by, night, f"Guest {number}"), design, f"T-{number}"
        )
        club.record(by, device, night, factories.choke_s2p(seed=500 + number, points=31))
        intakes_services.begin_intake(by=by, night=night, files=[Upload(f"{number}.s2p", b"x")])


def test_as_many_for_few_as_for_many():
    by = club.operator()
    night, design = club.night(by), factories.design(by)
    added(by, night, design, 0, 2)
    intake = intakes_services.begin_intake(
        by=by, night=night, files=[Upload(f"{n}.s2p", b"x") for n in range(9)]
    ).key
    reads = {
        "listing": lambda: nights.list_nights(by),
        "one": lambda: nights.get_night(by, night),
        "devices_of": lambda: nights.list_night_devices(by, night),
        "intake": lambda: intakes_selectors.get_intake(by, intake),
        "devices": lambda: listed_devices.list_devices(by),
        "tests": lambda: tests.list_tests(by),
    }

    def counted() -> dict[str, int]:
        found = {}
        for name, read in reads.items():
            with CaptureQueriesContext(connection) as captured:
                read()
            found[name] = len(captured)
        return found

    few = counted()
    added(by, night, design, 2, 5)
    club.night(by)
    assert counted() == few
    assert max(few.values()) <= 12, few


def test_newest_of_each_kind_and_method():
    by = club.operator()
    night = club.night(by)
    device = club.guests_device(by, night, club.guest(by, night))
    club.record(by, device, night, factories.choke_s2p(seed=1, points=31))
    newest = club.record(by, device, night, factories.choke_s2p(seed=2, points=31)).key
    loss = club.record(by, device, night, kind="insertion_loss", method="direct").key
    (row,) = nights.list_night_devices(by, night)
    assert row.tests == 3
    assert {(test.kind, test.key) for test in row.newest} == {
        ("common_mode", newest),
        ("insertion_loss", loss),
    }
    choke = next(test for test in row.newest if test.kind == "common_mode")
    assert [band["band"] for band in choke.bands][2:4] == ["160m", "80m"]
    assert choke.summary["benchmark_db"] == 20.0


def test_lists_go_on_where_a_page_ended():
    by = club.operator()
    keys = [club.night(by, title=f"Night {number}") for number in range(5)]
    first = nights.list_nights(by, limit=2)
    second = nights.list_nights(by, limit=2, cursor=first.next_cursor)
    last = nights.list_nights(by, limit=2, cursor=second.next_cursor)
    found = [row.key for page in (first, second, last) for row in page.results]
    assert sorted(found) == sorted(keys) and last.next_cursor is None
    assert [row.title for row in first.results] == ["Night 4", "Night 3"]
