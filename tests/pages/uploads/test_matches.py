"""Designs like the recipe that is being typed: beside the form, on the checked result, and one click away."""

from __future__ import annotations

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from measurements.selectors.tests import tests
from tests.pages import markup
from tests.pages.conftest import Group
from tests.pages.uploads.test_upload import FORM, SWEEP, checked, upload

ASKED = {"core_part": "2631803802", "turns": "11", "style": "coax", "conductor": "other", "purpose": "choke"}


def offered(client: Client, **changes: Any) -> list[str]:
    """The keys of the designs that the fragment offers."""
    content = client.get("/upload/matches/", {**ASKED, **changes}).content
    return [each.attrs["value"] for each in markup.read(content).all("button")]


def test_a_near_design_is_offered_with_what_differs(stranger: Client, group: Group):
    content = stranger.get("/upload/matches/", ASKED).content
    assert offered(stranger) == [group.design]
    assert b"Designs like this" in content and b"Differs: 12 turns." in content
    same = stranger.get("/upload/matches/", {**ASKED, "turns": "12"}).content
    assert b"The same, as far as it is filled in." in same and b"Differs" not in same


@pytest.mark.parametrize(
    "changes",
    [
        {"turns": "many"},
        {"turns": "", "recipe_ratio": ":"},
        {"style": "knitted", "outer_mm": "two inch", "stacked": "-1"},
        {"core_part": "other", "core_shape": "toroid", "outer_mm": "2.4 in", "core_mix": "31"},
    ],
)
def test_half_typed_and_faulty_fields_are_passed_over(
    stranger: Client, group: Group, changes: dict[str, str]
):
    assert offered(stranger, **changes) == [group.design]


def test_an_empty_form_is_like_nothing(stranger: Client, group: Group):
    answer = stranger.get("/upload/matches/", {"purpose": "choke", "style": "coax", "stacked": "1"})
    assert answer.status_code == 200 and answer.content.strip() == b""


def test_a_design_is_used_without_losing_the_file_or_the_tag(stranger: Client, group: Group):
    given = {
        **FORM,
        "turns": "11",
        "use_design": group.design,
        "sweep": SimpleUploadedFile("door.s2p", SWEEP),
    }
    answer = stranger.post("/upload/", given)
    assert answer.status_code == 200
    shown = markup.read(answer.content)
    assert shown.one("input", name="design").attrs["value"] == group.design
    assert shown.one("input", name="tag").attrs["value"] == FORM["tag"]
    held = shown.one("input", name="held_sweep").attrs["value"]
    words = markup.words(answer.content)
    assert "Kept: door.s2p" in words and "mending" not in words
    address = checked(stranger, file=None, held_sweep=held, design=group.design)
    stranger.post(address, {"share": "publish"})
    assert tests.list_tests(group.stranger).results[0].design == group.design


def test_nothing_is_called_missing_before_it_is_sent(stranger: Client, group: Group):
    answer = upload(stranger, file=None, tag="", use_design=group.design)
    assert answer.status_code == 200
    assert "Say what is written" not in markup.words(answer.content)


def test_another_recipe_may_still_be_described(stranger: Client, group: Group):
    answer = upload(stranger, design=group.design, use_design="")
    assert markup.read(answer.content).one("input", name="turns").attrs["value"] == "9"


def test_a_design_that_is_not_there_cannot_be_used(stranger: Client):
    assert upload(stranger, use_design="nosuchdesign").status_code == 404


def test_the_checked_result_offers_it_too(stranger: Client, group: Group):
    address = checked(stranger, turns="11", style="coax")
    words = markup.words(stranger.get(address).content)
    assert "This recipe is new here" in words and "Differs: 12 turns." in words
    answer = stranger.post(address, {"use_design": group.design})
    assert answer.status_code == 302 and answer["Location"] != address
    words = markup.words(stranger.get(answer["Location"]).content)
    assert "12 turns coax" in words and "This recipe is new here" not in words
    assert stranger.get(address).status_code == 404  # one draft, not two
    stranger.post(answer["Location"], {"share": "publish"})
    assert tests.list_tests(group.stranger).results[0].design == group.design


def test_the_checked_result_says_that_a_recipe_is_here_already(stranger: Client, group: Group):
    words = markup.words(stranger.get(checked(stranger, turns="12", style="coax")).content)
    assert "This recipe is here already, as" in words
    far = markup.words(stranger.get(checked(stranger, core_part="5943000201", turns="3")).content)
    assert "new here" not in far and "here already" not in far
