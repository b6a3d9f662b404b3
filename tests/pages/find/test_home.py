"""The first page answers what the evidence supports, and says what to do when it cannot."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from measurements.services.releases import releases
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group, signed_in


def test_before_any_release_it_says_what_to_do(reference_data: None):
    answer = Client().get("/?band=40m")
    assert "No evidence has been released yet" in markup.words(answer.content)
    assert markup.read(answer.content).one("a", href="/upload/", **{"class": "button"})


def test_a_member_sees_verdict_counts_and_median(owner: Client, group: Group):
    answer = owner.get("/?band=40m&band=20m")
    words = markup.words(answer.content)
    assert "Typically meets 7 devices" in words  # six people, one of them with two devices
    assert "Bands are judged together" in words
    assert "Evidence of release 1" in words
    assert "median 2" in words


def test_the_public_sees_bands_of_counts_and_no_shares(nobody: Client, group: Group):
    words = markup.words(nobody.get("/?band=40m&band=20m").content)
    assert "Typically meets 5–9 devices" in words
    assert "7 of 7" not in words


def test_verdicts_have_a_word_and_a_shape_of_their_own(owner: Client):
    content = owner.get("/?band=160m&band=40m").content
    page = markup.read(content)
    cells = [each for each in page.all("li") if "cell" in each.attrs.get("class", "").split()]
    assert len(cells) == 2
    shapes = [each.attrs["href"] for each in page.all("use")]
    assert shapes
    assert all("short" in cell.text or "meets" in cell.text or "mixed" in cell.text for cell in cells)


def test_another_benchmark_sets_the_median_beside_it_and_gives_no_verdict_below_ten(owner: Client):
    words = markup.words(owner.get("/?band=40m&benchmark_db=30").content)
    assert "No verdict" in words and "answered from ten people on" in words
    assert "20 dB, not 30 dB" in words and "Typically" not in words.split("How verdicts read")[0]


def test_the_state_is_in_the_address(nobody: Client):
    page = markup.read(nobody.get("/?band=40m&purpose=choke&ratio=1:1&benchmark_db=25").content)
    assert "checked" in page.one("input", name="band", value="40m").attrs
    assert "checked" not in page.one("input", name="band", value="20m").attrs
    assert page.one("input", name="ratio").attrs["value"] == "1:1"
    assert page.one("input", name="benchmark_db").attrs["value"] == "25"
    assert "selected" in page.one("option", value="choke").attrs


def test_when_nothing_fits_it_says_which_filter_to_loosen(owner: Client):
    answer = owner.get("/?band=40m&ratio=9:1")
    page = markup.read(answer.content)
    assert "With one thing changed there are answers" in markup.words(answer.content)
    link = page.one("a", href="?band=40m")
    assert "any ratio, not only 9:1" in link.text
    assert "Typically meets" in markup.words(owner.get("/" + link.attrs["href"]).content)


def test_leaving_a_band_out_is_offered_too(group: Group, reference_data: None):
    """6 m is not in the sweeps: 40 m and 6 m together have no answer, 40 m alone has."""
    client = signed_in(group.owner)
    answer = client.get("/?band=40m&band=6m")
    assert "without 6m" in markup.words(answer.content)


def test_untested_designs_are_listed_apart(owner: Client, group: Group):
    factories.design(group.owner, turns=3)
    words = markup.words(owner.get("/?band=40m").content)
    assert "1 more that fit, not tested by enough people yet" in words


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("band=40m&benchmark_db=99", "Choose a benchmark from 10 to 40 dB."),
        ("band=40m&benchmark_db=x", "Choose a benchmark from 10 to 40 dB."),
        ("band=40m&ratio=huh", "is not a ratio"),
        ("band=11m", "not one of the available choices"),
        ("band=40m&benchmark_db=20.3", "steps of 0.5 dB"),
    ],
)
def test_what_cannot_be_asked_is_said_beside_the_field(nobody: Client, query: str, sentence: str):
    answer = nobody.get(f"/?{query}")
    assert answer.status_code == 400
    assert sentence in markup.words(answer.content)
    assert "40m" in markup.words(answer.content)  # the form is still there


def test_better_supported_designs_come_first(owner: Client):
    weak = factories.evidence(5, peak_ohm=700, turns=4)
    releases.make_release()
    found = [
        each.attrs["href"]
        for each in markup.read(owner.get("/?band=40m").content).all("a")
        if re.match("/designs/[a-z0-9]{12}/", each.attrs["href"])
    ]
    assert len(found) == 2 and weak in found[1]


def test_the_first_page_answers_before_a_question(nobody: Client, group: Group):
    reply = nobody.get("/")
    page, words = markup.read(reply.content), markup.words(reply.content)
    assert "Best-proven designs" in words and "12 turns coax on FT240-31 (61 mm, mix 31)" in words
    for door in ("/check/", "/lookup/", "/predict/"):
        assert any(
            each.attrs["href"] == door and "button" in each.attrs.get("class", "") for each in page.all("a")
        )
    assert "Predicted, not measured" in words  # one proven design is few: prediction fills up, marked


def test_without_evidence_prediction_answers_and_says_so(reference_data: None):
    words = markup.words(Client().get("/").content)
    assert "Predicted, not measured" in words and "No released evidence" in words and "FT" in words
    assert "Best-proven" not in words
