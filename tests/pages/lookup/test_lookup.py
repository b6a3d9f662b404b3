"""Look up my build: one page answers, measured or predicted, and says what it did not understand."""

from __future__ import annotations

from django.test import Client

from tests.pages import markup
from tests.pages.conftest import Group


def look_up(text: str) -> str:
    reply = Client().get("/lookup/", {"q": text})
    assert reply.status_code == 200
    return markup.words(reply.content)


def test_a_tested_build_is_answered_with_its_evidence(group: Group):
    words = look_up("12t coax FT240-31 pixiedust")
    assert "12 turns coax on FT240-31 (61 mm, mix 31)" in words and "Measured on the bench" in words
    assert "Not understood: pixiedust" in words and "Predicted" not in words


def test_an_untested_build_is_predicted_and_marked_as_such(group: Group):
    words = look_up("2 stacked 2.4 inch mix 43 9 turns bifilar")
    assert "Predicted, not measured: 9 turns bifilar on 2 stacked FT240-43 (61 mm, mix 43)" in words
    assert "No tested design is this build" in words and "Measured on the bench" not in words


def test_relatives_stand_below_with_their_difference(group: Group):
    words = look_up("10t coax FT240-31")
    assert "Nearest relatives" in words and "12 turns coax on FT240-31" in words and "Differs:" in words


def test_half_a_build_says_what_is_missing(group: Group):
    words = look_up("9 turns on FT140-43")
    assert "You did not name the winding" in words and "For a prediction say the winding" in words


def test_nonsense_and_a_phrase_too_long_are_answered(group: Group):
    assert "Nothing of it" in look_up("qwertz")
    assert Client().get("/lookup/", {"q": "x" * 121}).status_code == 400
