"""The page of ratio devices: proposals, one winding, refusals in words, cautions."""

from __future__ import annotations

import html
import re

import pytest
from django.test import Client

ASK = "/predict/ratio/?band=40m&band=20m&ratio=49:1"


@pytest.fixture
def anyone(reference_data: None) -> Client:
    """A reader without an account, where nothing was tested yet."""
    return Client()


def said(answer) -> str:
    bare = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return html.unescape(" ".join(bare.split()))


def test_proposals_show_loss_and_swr_with_intervals_and_cautions(anyone: Client):
    answer = anyone.get(f"{ASK}&mix=43&mix=52")
    page = said(answer)
    assert answer.status_code == 200
    assert "Likeliest to hold both limits" in page and "(mix 43)" in page
    assert re.search(r"\d\.\d \(\d\.\d to \d\.\d\)", page)
    assert "Passed over: mix 52" in page
    assert "no power rating follows from them" in page and "700 V peak across 2450 ohm" in page
    assert "no measured ratio device of this group has corrected them yet" in page


def test_one_winding_is_predicted_as_it_is(anyone: Client):
    page = said(anyone.get(f"{ASK}&core=5943003801&turns=2&far_turns=21&stacked=1"))
    assert "2:21 turns on 5943003801 (mix 43)" in page and "These turns give 110.25:1." in page
    assert "Likeliest" not in page


def test_a_band_beyond_the_circuit_says_so(anyone: Client):
    page = said(anyone.get("/predict/ratio/?band=10m&ratio=49:1&core=5943003801&turns=6&stacked=1"))
    assert "Not predicted" in page and "sixth of the wavelength" in page


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("ratio=seven", "is not a ratio"),
        ("ratio=1:1", "Ratios from 1.5:1"),
        ("ratio=49:1&style=bifilar", "Choose a single wire"),
        ("ratio=49:1&principle=current&style=coax", "4:1, 9:1 or 16:1"),
        ("ratio=4:1&principle=voltage&style=coax", "voltage device is wound as"),
        ("ratio=49:1&turns=3", "Choose one ring"),
        ("ratio=49:1&turns=3&core=5975003801", "no permeability table"),
    ],
)
def test_what_cannot_be_predicted_is_refused_at_its_field(anyone: Client, query: str, words: str):
    answer = anyone.get(f"/predict/ratio/?band=40m&{query}")
    assert answer.status_code == 400
    assert words in said(answer)
