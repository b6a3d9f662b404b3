"""The pages of a night: opening it, its jig, who is there, what they brought, closing it."""

from __future__ import annotations

import json

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from measurements.models import Contributor
from measurements.selectors.nights import nights
from tests import club, factories
from tests.pages import evening, markup
from tests.pages.conftest import signed_in
from tests.pages.evening import Evening

pytestmark = pytest.mark.usefixtures("reference_data")
NIGHT = {"held_on": "2026-05-14", "title": "May bench", "calibrated": "true", "instrument": "two-port"}


@pytest.fixture
def osric(reference_data: None) -> Client:
    return signed_in(club.operator())


@pytest.fixture
def on(reference_data: None) -> Evening:
    return evening.begin()


def files(**uploads: bytes) -> dict[str, SimpleUploadedFile]:
    return {role: SimpleUploadedFile(f"{role}.s2p", data) for role, data in uploads.items()}


def test_an_empty_list_says_what_to_do(osric: Client):
    words = markup.words(osric.get("/nights/").content)
    assert "No night yet" in words and "Sweep the empty jig once" in words
    assert markup.read(osric.get("/nights/").content).one("a", href="/nights/open/")


def test_opening_leads_to_the_night_and_a_fault_keeps_what_was_typed(osric: Client):
    faulty = osric.post("/nights/open/", {**NIGHT, "held_on": "1066-10-14"})
    assert faulty.status_code == 422
    assert markup.read(faulty.content).one("input", name="title").attrs["value"] == "May bench"
    answer = osric.post("/nights/open/", NIGHT)
    words = markup.words(osric.get(answer["Location"]).content)
    assert "May bench" in words and "0 of 0 measured" in words
    assert "Sweep it once before the first device" in words
    assert "hot enough to burn you" in words and "eye protection" in words


def test_a_stale_change_is_refused_and_kept_in_the_form(on: Evening):
    client = signed_in(on.operator)
    version = nights.get_night(on.operator, on.night).version
    first = client.post(f"{on.address}change/", {**NIGHT, "title": "One", "version": version})
    second = client.post(f"{on.address}change/", {**NIGHT, "title": "Two", "version": version})
    assert (first.status_code, second.status_code) == (302, 422)
    assert "Somebody changed this night meanwhile" in markup.words(second.content)
    assert nights.get_night(on.operator, on.night).title == "One"


def test_the_jig_is_entered_once_and_told_in_words_figures_and_a_chart(osric: Client):
    address = osric.post("/nights/open/", NIGHT)["Location"]
    faulty = osric.post(f"{address}jig/", files(jig_open=club.jig()["jig_short"].data))
    assert faulty.status_code == 422 and "Give here the one of the jig" in markup.words(faulty.content)
    assert "Kept: jig_open.s2p" in markup.words(faulty.content)
    uploads = {role: upload.data for role, upload in club.jig().items()}
    assert osric.post(f"{address}jig/", files(**uploads)).status_code == 302
    words = markup.words(osric.get(address).content)
    # 0.2 pF across the clips: |Z| at 29.7 MHz is 26.8 kohm, 20 lg(1 + Z/100 ohm) = 48.6 dB, less 10 dB
    assert "Good up to 38.6 dB" in words
    spec = json.loads(osric.get(f"{address}jig/chart.json").content)
    assert "good up to 38.6 dB on the worst" in spec["description"]


def test_a_jig_whose_file_was_at_fault_needs_no_second_choosing(osric: Client):
    address = osric.post("/nights/open/", NIGHT)["Location"]
    good = club.jig()
    faulty = osric.post(f"{address}jig/", files(jig_through=good["jig_through"].data, jig_open=b"no sweep"))
    kept = markup.read(faulty.content).one("input", name="held_jig_through").attrs["value"]
    again = osric.post(f"{address}jig/", {"held_jig_through": kept, **files(jig_open=good["jig_open"].data)})
    assert again.status_code == 302
    assert "Good up to" in markup.words(osric.get(address).content)


def test_guests_and_members_come_onto_the_list(osric: Client):
    factories.member("Ada")
    address = osric.post("/nights/open/", NIGHT)["Location"]
    for name in ("Gwenna", "Ada", "gwenna"):
        assert osric.post(f"{address}people/", {"name": name}).status_code == 302
    words = markup.words(osric.get(address).content)
    assert Contributor.objects.filter(guest_name__iexact="gwenna").count() == 1 and "guest" in words
    refused = osric.post(f"{address}people/", {"operator": "Ada"})
    assert refused.status_code == 422 and "No operator has an account" in markup.words(refused.content)


def test_a_device_is_registered_for_somebody_new_with_a_new_recipe(on: Evening):
    client = signed_in(on.operator)
    given = {"tag": "N-1", "contributor": "new", "name": "Nessa", "design": "new", "origin": "homebrew"}
    recipe = {"purpose": "choke", "principle": "current", "recipe_ratio": "1:1", "style": "bifilar"}
    faulty = client.post(f"{on.address}devices/", {**given, **recipe, "core_part": "2631803802"})
    assert faulty.status_code == 422 and "Count the turns." in markup.words(faulty.content)
    assert markup.read(faulty.content).one("input", name="tag").attrs["value"] == "N-1"
    assert [row.tag for row in nights.get_night(on.operator, on.night).devices] == ["A-1", "G-1"]
    sent = {**given, **recipe, "core_part": "2631803802", "turns": "9", "conductor": "other"}
    answer = client.post(f"{on.address}devices/", sent)
    assert answer.status_code == 302
    made = next(row for row in nights.get_night(on.operator, on.night).devices if row.tag == "N-1")
    assert (made.owner, made.is_guest) == ("Nessa", True) and "9 turns bifilar" in made.design_title


def test_no_design_and_nobody_is_chosen_beforehand(on: Evening):
    """A hurried hand would file evidence under the first design of the list."""
    client, address = signed_in(on.operator), f"{on.address}devices/"
    options = markup.read(client.get(address).content).all("option")
    chosen = [each.attrs["value"] for each in options if "selected" in each.attrs]
    assert on.design not in chosen
    answer = client.post(address, {"tag": "GW-1"})
    assert answer.status_code == 422 and "Choose the design." in markup.words(answer.content)
    assert markup.read(answer.content).one("input", name="tag").attrs["value"] == "GW-1"


def test_a_device_registered_at_home_is_opened_by_its_label_alone(on: Evening):
    ada = factories.member("Ada")
    key = factories.device(ada, on.design, tag="Home-1")
    client, bench = signed_in(on.operator), f"{on.address}bench/"
    given = {"tag": "Home-1", "contributor": "new", "name": "Ada", "design": on.design}
    page = client.post(f"{on.address}devices/", given, follow=True)
    assert "Home-1 is registered." in markup.words(page.content)  # for a guest of this name
    assert key not in {row.key for row in nights.get_night(on.operator, on.night).devices}
    offered = client.get(bench, {"device": key})
    assert "Open its device on this bench?" in markup.words(offered.content)
    unknown = client.get(bench, {"device": "222222222222"})
    assert markup.words(unknown.content) == markup.words(offered.content)
    assert key not in {row.key for row in nights.get_night(on.operator, on.night).devices}
    assert client.post(bench, {"label": "222222222222"}).status_code == 404
    opened = client.post(bench, {"label": key}, follow=True)
    assert "Home-1" in markup.words(opened.content) and "Ada" not in markup.words(opened.content)
    assert client.get(f"/devices/{key}/").status_code == 404


def test_the_owner_is_told_and_ends_it_with_one_tap(on: Evening):
    ada = signed_in(factories.member("Ada"))
    assert "A-1 is on a night's bench now" in markup.words(ada.get("/devices/").content)
    page = f"/devices/{on.members_device}/"
    words = markup.words(ada.get(page).content)
    assert "Who had access" in words and "Osric" in words and "opened by its label" in words
    assert signed_in(on.operator).post(f"{page}access/", {"end": "yes"}).status_code == 404
    after = ada.post(f"{page}access/", {"end": "yes"}, follow=True)
    assert "ended by you" in markup.words(after.content)
    assert on.members_device not in {row.key for row in nights.get_night(on.operator, on.night).devices}


def test_a_request_is_answered_alike_and_opens_on_a_yes(on: Evening):
    key = factories.device(factories.member("Ada"), on.design, tag="Home-1")
    client, bench = signed_in(on.operator), f"{on.address}bench/"
    said = [
        markup.words(client.post(bench, {"ask_name": name, "ask_tag": "Home-1"}, follow=True).content)
        for name in ("Ada", "Nobody")
    ]
    # the second answer lists both requests
    assert said[1].replace("Home-1 of Nobody: asked", "") == said[0]
    assert "Home-1 of Nobody: asked" in said[1] and "Home-1 of Ada: asked" in said[1]
    ada = signed_in(factories.member("Ada"))
    asked = markup.read(ada.get(f"/devices/{key}/").content).one("input", name="request").attrs["value"]
    ada.post(f"/devices/{key}/access/", {"request": asked, "answer": "yes"})
    assert key in {row.key for row in nights.get_night(on.operator, on.night).devices}


def test_a_steward_confirms_the_guests_of_a_night_in_one_tap(on: Evening):
    steward = signed_in(factories.member("Stella", "steward"))
    boxes = markup.read(steward.get(on.address).content).all("input")
    found = [each.attrs["value"] for each in boxes if each.attrs.get("name") == "attendee"]
    sent = {"confirm": "yes", "attendee": found}
    assert "Confirm that they came" not in markup.words(signed_in(on.operator).get(on.address).content)
    assert signed_in(on.operator).post(f"{on.address}people/", sent).status_code == 403
    answer = steward.post(f"{on.address}people/", sent, follow=True)
    words = markup.words(answer.content)
    assert "1 guest confirmed." in words and "Confirm that they came" not in words


def test_a_guest_is_found_again_by_name_and_the_operator_confirms(on: Evening):
    client = signed_in(on.operator)
    address = client.post("/nights/open/", NIGHT)["Location"]
    asked = client.post(f"{address}people/", {"name": "Gwenna"})
    assert asked.status_code == 409 or asked.status_code == 422
    assert "The same person" in markup.words(asked.content)
    assert client.post(f"{address}people/", {"name": "Gwenna", "same_person": "yes"}).status_code == 302


def test_progress_and_verdicts_stand_on_the_night(on: Evening):
    club.record(on.operator, on.guests_device, on.night, evening.CHOKE)
    page = signed_in(on.operator).get(on.address)
    words = markup.words(page.content)
    assert "1 of 2 measured" in words and "Still to measure: 1" in words
    assert markup.read(page.content).one("progress").attrs["value"] == "1"


def test_closing_names_what_is_unfinished_and_opens_again(on: Evening):
    client = signed_in(on.operator)
    assert "Not measured: A-1, G-1" in markup.words(client.get(f"{on.address}close/").content)
    version = nights.get_night(on.operator, on.night).version
    client.post(f"{on.address}close/", {"version": version})
    words = markup.words(client.get(on.address).content)
    assert "closed" in words and "To the bench" not in words
    assert client.post(f"{on.address}close/", {"version": version}).status_code == 409
    client.post(f"{on.address}close/", {"version": version + 1})
    assert nights.get_night(on.operator, on.night).closed_at is None


@pytest.mark.parametrize(
    "page", ["", "change/", "close/", "devices/", "jig/", "bench/", "cards/", "labels/", "intake/"]
)
def test_another_operator_finds_no_such_night(on: Evening, page: str):
    other = signed_in(club.operator("Petra"))
    theirs, unknown = other.get(f"{on.address}{page}"), other.get(f"/nights/222222222222/{page}")
    assert theirs.status_code == unknown.status_code == 404
    assert markup.words(theirs.content) == markup.words(unknown.content)


def test_another_operator_changes_nothing(on: Evening):
    other = signed_in(club.operator("Petra"))
    before = nights.get_night(on.operator, on.night)
    for page in ("change/", "close/", "people/", "devices/", "jig/", "cards/", "intake/", "manifest.csv"):
        sent = {**NIGHT, "name": "Xavier", "version": before.version, "names": "a.s2p"}
        assert other.post(f"{on.address}{page}", sent).status_code == 404, page
    assert nights.get_night(on.operator, on.night) == before
