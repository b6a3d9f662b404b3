"""On the bench without scripts: finding a device, storing a test, faults, and the same file twice."""

from __future__ import annotations

import json
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from measurements.selectors.nights import nights as nights_selectors
from measurements.selectors.tests import tests
from measurements.services.nights import nights as nights_services
from tests import club, factories
from tests.pages import evening, markup
from tests.pages.conftest import signed_in
from tests.pages.evening import CHOKE, Evening

pytestmark = pytest.mark.usefixtures("reference_data")
JSON = {"Accept": "application/json"}


@pytest.fixture
def on(reference_data: None) -> Evening:
    return evening.begin()


@pytest.fixture
def osric(on: Evening) -> Client:
    return signed_in(on.operator)


def sent(osric: Client, on: Evening, data: bytes | None = CHOKE, **changes: Any) -> Any:
    given = {"device": on.guests_device, "test": "common_mode", **changes}
    if data is not None:
        given["sweep"] = SimpleUploadedFile("g1.s2p", data)
    headers = given.pop("headers", {})
    return osric.post(f"{on.address}bench/", given, headers=headers)


def stored_of(on: Evening) -> tuple[Any, ...]:
    return tests.list_tests(on.operator, device=on.guests_device).results


@pytest.mark.parametrize("typed", ["G-1", "g-1", " G-1 ", "{device}", "https://x.example/bench/{device}/"])
def test_a_tag_or_what_a_scanner_typed_leads_to_the_device(osric: Client, on: Evening, typed: str):
    tag = typed.format(device=on.guests_device)
    answer = osric.get(f"{on.address}bench/", {"tag": tag})
    assert answer["Location"] == f"{on.address}bench/?device={on.guests_device}"


def test_an_unknown_tag_is_offered_to_be_registered(osric: Client, on: Evening):
    answer = osric.get(f"{on.address}bench/", {"tag": "Z-9"})
    assert answer.status_code == 404
    assert markup.read(answer.content).one("a", href=f"{on.address}devices/?tag=Z-9")
    assert markup.read(answer.content).one("input", id="tag").attrs["value"] == "Z-9"


def test_a_tag_that_two_people_have_is_asked_about(osric: Client, on: Evening):
    other = club.guest(on.operator, on.night, "Hedda")
    club.guests_device(on.operator, on.night, other, on.design, tag="G-1")
    words = markup.words(osric.get(f"{on.address}bench/", {"tag": "G-1"}).content)
    assert "Several have this tag" in words and "Gwenna" in words and "Hedda" in words


def test_a_label_opens_the_bench_for_an_operator_and_the_device_for_its_owner(osric: Client, on: Evening):
    label = f"/bench/{on.members_device}/"
    assert osric.get(label)["Location"] == f"{on.address}bench/?device={on.members_device}"
    ada = signed_in(factories.member("Ada"))
    assert ada.get(label)["Location"] == f"/devices/{on.members_device}/"
    version = nights_selectors.get_night(on.operator, on.night).version
    nights_services.close_night(by=on.operator, night=on.night, version=version)
    assert osric.get(label)["Location"] == f"/devices/{on.members_device}/"


def test_a_file_becomes_a_verdict_in_words_per_band_with_the_nights_jig(osric: Client, on: Evening):
    answer = sent(osric, on)
    assert answer.status_code == 302
    words = markup.words(osric.get(answer["Location"]).content)
    # 3000 ohm at 10 MHz: 20 lg(1 + 3000/100) = 29.8 dB; the parallel circuit falls short at its far ends
    assert "Meets on" in words and "30m meets" in words and "160m falls short" in words
    assert "1 of 2 measured" in words and "Next device" in words
    (stored,) = stored_of(on)
    assert {row.role for row in stored.sweeps} == {"sweep", "jig_through", "jig_open", "jig_short"}
    assert stored.settings["calibrated"] is True and stored.measured_on == club.HELD_ON


def test_the_same_file_again_is_one_test_and_says_so(osric: Client, on: Evening):
    first, second = sent(osric, on), sent(osric, on)
    assert "again=yes" not in first["Location"] and "again=yes" in second["Location"]
    assert "was stored before" in markup.words(osric.get(second["Location"]).content)
    assert len(stored_of(on)) == 1


def test_a_script_gets_the_verdict_as_it_stands_on_the_page(osric: Client, on: Evening):
    said = json.loads(sent(osric, on, headers=JSON).content)
    assert "Meets on" in said["html"] and said["address"].startswith(f"{on.address}bench/?device=")
    again = json.loads(sent(osric, on, headers=JSON).content)
    assert "was stored before" in again["html"]
    assert len(stored_of(on)) == 1


def test_a_faulty_file_is_named_beside_its_place_and_nothing_is_stored(osric: Client, on: Evening):
    answer = sent(osric, on, b"# MHz S RI R 50\n1 0 0 nonsense\n")
    assert answer.status_code == 422
    assert "(line 2)" in markup.words(answer.content)
    said = json.loads(sent(osric, on, b"no sweep", headers=JSON).content)
    assert said["faults"][0]["field"] == "sweep" and "frequency unit" in said["faults"][0]["detail"]
    assert stored_of(on) == ()


def test_without_scripts_a_good_file_survives_a_fault_elsewhere(osric: Client, on: Evening):
    given = {"test": "insertion_loss.one_port", "device": on.guests_device, "load_ohm": "49,9"}
    one_port = SimpleUploadedFile("open.s1p", b"# MHz S RI R 50\n1 0.9 0\n10 0.9 0\n30 0.9 0\n")
    answer = osric.post(f"{on.address}bench/", {**given, "far_open": one_port})
    page = markup.read(answer.content)
    assert answer.status_code == 422 and "Kept: open.s1p" in markup.words(answer.content)
    assert page.one("input", name="held_far_open").attrs["value"]
    assert page.one("input", name="load_ohm").attrs["value"] == "49,9"


def test_the_resistor_and_the_test_are_offered_again_for_the_next_device(osric: Client, on: Evening):
    sweep = SimpleUploadedFile("m.s1p", b"# MHz S RI R 50\n1 0.01 0\n10 0.01 0\n30 0.01 0\n")
    given = {"test": "load_match", "device": on.guests_device, "load_ohm": "49.9", "sweep": sweep}
    assert osric.post(f"{on.address}bench/", given).status_code == 302
    page = markup.read(osric.get(f"{on.address}bench/?device={on.members_device}").content)
    assert page.one("input", name="test").attrs["value"] == "load_match"
    assert page.one("input", name="load_ohm").attrs["value"] == "49.9"


def test_a_closed_night_takes_no_test(osric: Client, on: Evening):
    version = nights_selectors.get_night(on.operator, on.night).version
    nights_services.close_night(by=on.operator, night=on.night, version=version)
    answer = sent(osric, on)
    assert answer.status_code == 422 and "This night is closed" in markup.words(answer.content)


def test_the_bench_is_a_small_page_that_works_before_any_script(osric: Client, on: Evening):
    """A slow link: 50 kbit/s carries 6 kB a second; the page is there within three seconds."""
    for address in (f"{on.address}bench/", f"{on.address}bench/?device={on.guests_device}"):
        content = osric.get(address).content
        assert len(content) < 16_000
        page = markup.read(content)
        assert all("defer" in script.attrs for script in page.all("script"))
