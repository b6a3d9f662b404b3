"""After a night: everybody finds their own devices and nobody else's; the sheet of the group names nobody."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from measurements.models import Device, Test
from measurements.services.devices import attendance, devices
from measurements.services.nights import guests
from tests import club, factories
from tests.pages import evening, markup
from tests.pages.conftest import signed_in
from tests.pages.evening import Evening

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def on(reference_data: None) -> Evening:
    found = evening.begin(jig=False)
    club.record(found.operator, found.guests_device, found.night, evening.CHOKE)
    club.record(found.operator, found.members_device, found.night, factories.choke_s2p(seed=7, points=101))
    return found


def test_a_guest_sees_own_devices_by_the_code_and_no_others(on: Evening):
    code = guests.issue_claim_code(by=on.operator, night=on.night, contributor_key=on.guest)
    page = Client().post("/after/", {"code": code.upper()})
    words = markup.words(page.content)
    assert page.status_code == 200 and "G-1" in words and "A-1" not in words, words
    assert "What to do next" in words and "no broken or shorted wire" in words
    assert b"data:image/svg+xml;base64," in page.content
    assert "private" in page["Cache-Control"]


@pytest.mark.parametrize("code", ["abcd-efgh-jkmn", "2222-2222-2222", ""])
def test_a_wrong_code_shows_nothing(on: Evening, code: str):
    page = Client().post("/after/", {"code": code})
    assert page.status_code == 422 and b"G-1" not in page.content


def test_a_used_code_opens_nothing_more(on: Evening):
    code = guests.issue_claim_code(by=on.operator, night=on.night, contributor_key=on.guest)
    guests.claim_guest_devices(by=factories.member("Gwenna"), code=code)
    assert Client().post("/after/", {"code": code}).status_code == 422


def test_codes_are_not_for_guessing(on: Evening, settings):
    settings.BENCHNIGHT_ANALYSE_PER_MINUTE = 3
    answers = [Client().post("/after/", {"code": "2222-2222-2222"}).status_code for _ in range(6)]
    assert answers.count(429) == 3, answers


def test_a_member_sees_own_devices_of_the_night(on: Evening):
    listed = signed_in(factories.member("Ada")).get("/devices/").content.decode()
    assert f'href="{on.address}mine/"' in listed
    assert "mine/" not in signed_in(factories.member("Ben")).get("/devices/").content.decode()
    page = signed_in(factories.member("Ada")).get(f"{on.address}mine/")
    words = markup.words(page.content)
    assert "A-1" in words and "G-1" not in words
    assert signed_in(factories.member("Ben")).get(f"{on.address}mine/").status_code == 404


def test_the_sheet_of_the_group_names_those_who_agreed_alone(on: Evening):
    client = signed_in(on.operator)
    page = client.get(f"{on.address}summary/").content
    sheet = re.sub(rb"<form.*?</form>", b"", page, flags=re.S)
    words = markup.words(sheet)
    assert "2 of 2 devices tested" in words
    for private in ("Gwenna", "Ada", "G-1", "A-1"):
        assert private not in words
    # two people: what was found is not counted, which would tell each the other's result
    assert "Fewer than three people" in words and "What was found" not in words
    named = markup.words(client.get(f"{on.address}summary/?name={on.guest}").content)
    assert "Gwenna" in named and "G-1" in named and "A-1" not in named
    assert signed_in(club.operator("Petra")).get(f"{on.address}summary/").status_code == 404


def test_what_was_found_is_counted_from_three_people_on(on: Evening):
    for seed, name in ((11, "Senara"), (12, "Petroc")):
        device = club.guests_device(
            on.operator, on.night, club.guest(on.operator, on.night, name), on.design, f"{name[0]}-1"
        )
        club.record(on.operator, device, on.night, factories.choke_s2p(seed=seed, points=101))
    assert "What was found" in markup.words(signed_in(on.operator).get(f"{on.address}summary/").content)


def test_closing_says_what_lacks_an_owner_a_build_or_a_verdict(on: Evening):
    ada = factories.member("Ada")
    sealed = devices.register_device(by=ada, design=None, tag="A-9", kind="balun").key
    attendance.open_device_by_label(by=on.operator, night=on.night, label=sealed)
    club.guests_device(on.operator, on.night, on.guest, on.design, "G-2")
    words = markup.words(signed_in(on.operator).get(f"{on.address}close/").content)
    assert "Not measured: A-9, G-2" in words and "Owner not named: A-1, A-9" in words
    assert "Build not known: A-9" in words
    for key in (on.members_device, sealed):
        attendance.end_access(by=ada, device=key)
    words = markup.words(signed_in(on.operator).get(f"{on.address}close/").content)
    assert "Owner not named" not in words


def test_a_test_and_a_persons_tests_are_moved_and_taken_back_on_pages(on: Evening):
    client = signed_in(on.operator)
    test = Test.objects.get(device__key=on.guests_device)
    petroc = club.guest(on.operator, on.night, "Petroc")
    other = club.guests_device(on.operator, on.night, petroc, on.design, "P-1")
    address = f"/tests/{test.key}/move/"
    assert "P-1" in markup.words(client.get(address).content)
    moved = client.post(address, {"device": other}, follow=True)
    assert Test.objects.get(pk=test.pk).device.key == other
    undo = re.search(rb'href="(/moves/[a-z0-9]+/undo/)"', moved.content)
    assert undo is not None
    client.post(undo[1].decode())
    assert Test.objects.get(pk=test.pk).device.key == on.guests_device
    page = client.post(f"{on.address}move/", {"giver": on.guest, "receiver": petroc}, follow=True)
    assert "The devices and tests are moved." in markup.words(page.content)
    assert Device.objects.get(key=on.guests_device).contributor.guest_name == "Petroc"
    stranger = signed_in(club.operator("Petra"))
    assert stranger.post(f"{on.address}move/", {"giver": petroc, "receiver": on.guest}).status_code == 404
    assert stranger.get(address).status_code == 404
