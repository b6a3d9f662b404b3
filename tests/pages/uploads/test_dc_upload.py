"""An ohmmeter test from the form to the stored test: lines typed, no file."""

from __future__ import annotations

from django.test import Client

from measurements.models import Result, Test
from tests.pages import markup
from tests.pages.conftest import Group

TYPED = {
    "kind": "dc",
    "method": "",
    "design": "",
    "measured_on": "2026-02-01",
    "dc_readings": "C A 0,2\nS B 0.3\n c s open",
    "dc_type": "",
    "dc_options": "",
    "insulation_mohm": "500",
}


def test_from_typed_lines_to_a_stored_test(owner: Client, group: Group):
    form = markup.words(owner.get("/upload/?kind=dc").content)
    assert (
        "One line per reading" in form
        and "Was the analyser calibrated" not in form
        and "The files" not in form
    )
    answer = owner.post("/upload/", {**TYPED, "device": group.device})
    assert answer.status_code == 302, markup.words(answer.content)
    words = markup.words(owner.get(answer["Location"]).content)
    assert "It conducts where it should" in words and "C to A" in words and "joined, at most 1 ohm" in words
    assert "for you alone: no figure of it is published" in words and "conspire" not in words
    page = markup.read(owner.get(answer["Location"]).content)
    saving = {
        each.attrs["name"]: each.attrs.get("value", "") for each in page.all("input") if "name" in each.attrs
    }
    saved = owner.post(answer["Location"], saving)
    assert saved.status_code == 302, markup.words(saved.content)
    test = Test.objects.get(kind="dc")
    assert Result.objects.get(test=test).figures["summary"]["meets"] is True
    words = markup.words(owner.get(f"/tests/{test.key}/").content)
    assert "500.0 megohm" in words and "open, at least 1 megohm" in words


def test_a_line_that_says_nothing_is_named(owner: Client, group: Group):
    answer = owner.post("/upload/", {**TYPED, "device": group.device, "dc_readings": "C A 0.2\nA 3"})
    assert answer.status_code == 422 and "Line 2" in markup.words(answer.content)


def test_the_ohmmeter_step_of_a_fault_search(owner: Client, group: Group):
    address = f"/fault-searches/{group.search}/"
    for step in ("ground_look", "shack_sweep", "line", "line_parts", "inspection", "bypass"):
        owner.post(address, {"do": "skip", "step": step})
    words = markup.words(owner.get(address).content)
    assert "Ohmmeter on the bench" in words and "One line per reading" in words
    sent = {"do": "record", "step": "dc", "measured_on": "2026-05-02", "dc_readings": "C A open\nS B 0.2"}
    assert owner.post(address, sent).status_code == 302
    words = markup.words(owner.get(address).content)
    assert "Load-match" not in words.split("What it comes to")[-1].split("Not known")[0]
    assert "The device does not conduct as its type should" in words
