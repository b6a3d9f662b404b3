"""The page of a night of 150 devices stays within its budget and finds each of them."""

from __future__ import annotations

import gzip

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from measurements.models import Contributor, Device, Night, NightContributor, NightDevice, Result, Test
from tests import club
from tests.pages import evening, markup
from tests.pages.conftest import signed_in
from tests.pages.evening import Evening

pytestmark = pytest.mark.usefixtures("reference_data")
MOST_QUERIES, MOST_KB, MOST_NODES = 15, 30, 1500


@pytest.fixture
def on(reference_data: None) -> Evening:
    """A night of 150 devices of 50 guests, half of them measured: rows copied from one real test."""
    found = evening.begin()
    club.record(found.operator, found.guests_device, found.night, evening.CHOKE)
    night, first = Night.objects.get(key=found.night), Device.objects.get(key=found.guests_device)
    test, result = Test.objects.get(), Result.objects.get()
    for number in range(49):
        person = Contributor.objects.create(guest_name=f"Person {number}")
        NightContributor.objects.create(night=night, contributor=person, name=person.guest_name)
        for place in range(3):
            device = Device.objects.create(contributor=person, design=first.design, tag=f"N-{number}-{place}")
            NightDevice.objects.create(night=night, device=device)
            if place != 1:
                copied = Test(
                    device=device, kind=test.kind, settings=test.settings, measured_on=test.measured_on
                )
                copied.content_sha256, copied.night = f"{device.pk:064}", night
                copied.save()
                Result.objects.create(
                    test=copied, engine_version=result.engine_version, figures=result.figures
                )
    return found


def test_a_night_of_150_is_within_its_budget(on: Evening):
    client = signed_in(on.operator)
    client.get(on.address)
    for address in (on.address, f"{on.address}?state=waiting", f"{on.address}?show={on.guests_device}"):
        with CaptureQueriesContext(
            connection,
        ) as asked:
            page = client.get(address)
        packed = len(gzip.compress(page.content)) / 1000
        nodes = len(markup.read(page.content).elements)
        print(f"\n{address}: {len(asked)} queries, {packed:.1f} kB, {nodes} nodes")
        assert len(asked) <= MOST_QUERIES, "\n".join(
            each["sql"][:20] + each["sql"][each["sql"].find(" FROM ") :][:150]
            for each in asked.captured_queries
        )
        assert packed <= MOST_KB and nodes <= MOST_NODES


def test_search_filter_and_pages_find_each_device(on: Evening):
    client = signed_in(on.operator)

    def words(query: str) -> str:
        return markup.words(client.get(f"{on.address}?{query}").content)

    assert "1 of 149 device" in words("q=n-7-1") and "N-7-1" in words("q=n-7-1")
    assert "3 of 149" in words("q=person 12") and "50 of 149" in words("state=waiting")
    assert "1 of 149" in words("state=lacking")  # the member's, by its label
    assert "N-9-2" in words("page=8") and "N-9-2" in words("page=99999")
    assert "149 of 149" in words("state=nosuch&page=x")
    shown = markup.words(client.get(f"{on.address}?show={on.guests_device}").content)
    assert "bench · card" in shown
    first = words("state=waiting")
    assert "Next: A-1" in first
    people = words("people=all")
    assert "Person 48" in people and "30 more" in words("")
