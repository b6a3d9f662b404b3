"""Builds as people say them. Phrasings: common practice, no source; sizes from fixtures/reference."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from measurements.services.designs.build_phrases import read_build_phrase
from measurements.services.designs.recipes import Catalogue, ListedCore, normalise_recipe

FOLDER = Path("fixtures/reference")
SIZES = ("part", "shape", "mix", "outer_mm", "inner_mm", "height_mm")


def read(name):
    return json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))["rows"]


CATALOGUE = Catalogue(
    cores=tuple(ListedCore(*(row[key] for key in SIZES)) for row in read("cores")),
    mixes=(*(row["name"] for row in read("mixes")), "unknown"),
    conductors=tuple(row["name"] for row in read("conductors")),
)
R31, R43, R61, M140, F114A = "2631803802", "5943003801", "5961003801", "5943002701", "2631801202"
# phrase: (part, stacked, separate, turns, style, conductor, ratio, purpose), each None where not said
PHRASES = {
    "12t RG316 FT240-31": (R31, 1, 1, 12, "coax", "RG-316", "1:1", "choke"),
    "2 stacked 2.4 inch mix 43 9 turns bifilar": (R43, 2, 1, 9, "bifilar", None, "1:1", "choke"),
    "12 turns of RG-316 on one 61 mm mix 31 core": (R31, 1, 1, 12, "coax", "RG-316", "1:1", "choke"),
    "12 turns RG-316 on FT240-31": (R31, 1, 1, 12, "coax", "RG-316", "1:1", "choke"),
    "FT240-31 12T RG-400": (R31, 1, 1, 12, "coax", "RG-400", "1:1", "choke"),
    "ft 240 - 43, 10 turns, rg58": (R43, 1, 1, 10, "coax", "RG-58", "1:1", "choke"),
    "ft240-43 14 trns coax": (R43, 1, 1, 14, "coax", None, "1:1", "choke"),
    "10 turns rg58 on ft240 mix 43": (R43, 1, 1, 10, "coax", "RG-58", "1:1", "choke"),
    "10 turns rg58 on ft240 #43": (R43, 1, 1, 10, "coax", "RG-58", "1:1", "choke"),
    "11T RG400 2x FT240-31": (R31, 2, 1, 11, "coax", "RG-400", "1:1", "choke"),
    "11 turns RG-400 on two FT240-31": (R31, 2, 1, 11, "coax", "RG-400", "1:1", "choke"),
    "11 turns RG-400 on two stacked FT240-31": (R31, 2, 1, 11, "coax", "RG-400", "1:1", "choke"),
    "three stacked FT240-31 9 turns rg-213": (R31, 3, 1, 9, "coax", "RG-213", "1:1", "choke"),
    "stack of 2 FT240-31 9 turns rg-213": (R31, 2, 1, 9, "coax", "RG-213", "1:1", "choke"),
    "FT240-31 x 2, 9 turns rg-213": (R31, 2, 1, 9, "coax", "RG-213", "1:1", "choke"),
    "2631803802 12 turns coax": (R31, 1, 1, 12, "coax", None, "1:1", "choke"),
    "2 stacked 2631803802, 11 turns RG-316": (R31, 2, 1, 11, "coax", "RG-316", "1:1", "choke"),
    "twelve turns bifilar on FT240-43": (R43, 1, 1, 12, "bifilar", None, "1:1", "choke"),
    "12 turns twisted pair FT240-31": (R31, 1, 1, 12, "twisted_pair", None, "1:1", "choke"),
    "12 turns parallel wires FT240-31": (R31, 1, 1, 12, "parallel_wires", None, "1:1", "choke"),
    "4:1 current balun 2 separate FT240-31 10t bifilar": (R31, 1, 2, 10, "bifilar", None, "4:1", "balun"),
    "4:1 guanella balun, two separate cores FT240-43, 12t": (R43, 1, 2, 12, None, None, "4:1", "balun"),
    "4:1 voltage balun FT240-61 14 turns trifilar": (R61, 1, 1, 14, "trifilar", None, "4:1", "balun"),
    "1:4 balun FT240-61 14 turns bifilar": (R61, 1, 1, 14, "bifilar", None, "4:1", "balun"),
    "1:1 choke FT140-43 8 turns rg174": (M140, 1, 1, 8, "coax", "RG-174", "1:1", "choke"),
    "8t RG-174 FT140-43 common mode choke": (M140, 1, 1, 8, "coax", "RG-174", "1:1", "choke"),
    "line isolator FT240-31 12 turns RG-8X": (R31, 1, 1, 12, "coax", "RG-8X", "1:1", "choke"),
    "FT114A-31 5 turns rg-316": (F114A, 1, 1, 5, "coax", "RG-316", "1:1", "choke"),
    "61 mm mix 31, 12 turns, RG-142": (R31, 1, 1, 12, "coax", "RG-142", "1:1", "choke"),
    '2.4" 31 material 12 turns RG-303': (R31, 1, 1, 12, "coax", "RG-303", "1:1", "choke"),
    "2.4in #31 12T RG-303": (R31, 1, 1, 12, "coax", "RG-303", "1:1", "choke"),
    "2,4 inch mix 31 12 turns coax": (R31, 1, 1, 12, "coax", None, "1:1", "choke"),
    "61 x 35.55 x 12.7 mm mix 31 12 turns coax": (R31, 1, 1, 12, "coax", None, "1:1", "choke"),
    "6+6 turns RG-316 FT240-31": (R31, 1, 1, 12, "coax", "RG-316", "1:1", "choke"),
    "12 turns RG-316 FT240-31 split winding": (R31, 1, 1, 12, "coax", "RG-316", "1:1", "choke"),
    "12 turns RG-316 FT240-31 crossover": (R31, 1, 1, 12, "coax", "RG-316", "1:1", "choke"),
    "turns: 12 coax FT240-31": (R31, 1, 1, 12, "coax", None, "1:1", "choke"),
    "9 turns bifilar AWG 14 enamelled on FT240-43": (
        R43, 1, 1, 9, "bifilar", "enamelled copper AWG 14", "1:1", "choke",
    ),
    "9 turns bifilar 14 awg teflon on FT240-43": (
        R43, 1, 1, 9, "bifilar", "PTFE hook-up wire AWG 14", "1:1", "choke",
    ),
    "9 turns bifilar 1 mm enamelled wire on FT240-43": (
        R43, 1, 1, 9, "bifilar", "enamelled copper 1.0 mm", "1:1", "choke",
    ),
    "12 turns cat5 twisted pair FT240-31": (
        R31, 1, 1, 12, "twisted_pair", "twisted pair from network cable", "1:1", "choke",
    ),
    "12 turns speaker wire FT240-31 parallel": (
        R31, 1, 1, 12, "parallel_wires", "two-wire loudspeaker cable", "1:1", "choke",
    ),
    "BN-43-202 3 turns bifilar balun 4:1": ("2843000202", 1, 1, 3, "bifilar", None, "4:1", "balun"),
    "FT240 31 12 turns coax": (R31, 1, 1, 12, "coax", None, "1:1", "choke"),
    "FT240-31 12": (R31, 1, 1, None, None, None, "1:1", "choke"),
    "12 turns": (None, 1, 1, 12, None, None, "1:1", "choke"),
}  # fmt: skip


@pytest.mark.parametrize("text", PHRASES)
def test_a_phrase_is_read_as_people_mean_it(text):
    part, stacked, separate, turns, style, conductor, ratio, purpose = PHRASES[text]
    found = read_build_phrase(text, CATALOGUE)
    recipe, core, winding = found.recipe, found.recipe["cores"][0], found.recipe["winding"]
    if part and "part" not in core:  # by size: the recipe's own rule finds the listed core
        core = normalise_recipe(
            {**recipe, "winding": {"turns": 1, "style": "coax", **winding}}, CATALOGUE
        ).as_json["cores"][0]
    assert core.get("part") == part
    assert (core["stacked"], len(recipe["cores"])) == (stacked, separate)
    assert (winding.get("turns"), winding.get("style"), winding.get("conductor")) == (turns, style, conductor)
    assert (recipe["ratio"], recipe["purpose"]) == (ratio, purpose)
    assert found.unknown == (["12"] if text == "FT240-31 12" else [])


def test_there_are_at_least_forty_phrasings():
    assert len(PHRASES) >= 40


@pytest.mark.parametrize(
    "text", [each for each in PHRASES if "split" in each or "+" in each or "cross" in each]
)
def test_two_halves_are_read(text):
    assert read_build_phrase(text, CATALOGUE).winding["split"] is True


@pytest.mark.parametrize(
    ("text", "unknown"),
    [
        ("12t RG316 FT240-31 magic dust", ["magic", "dust"]),
        ("12t RG999 FT240-31", ["RG999"]),
        ("12t coax T200-2", ["T200", "2"]),
        ("12t coax FT999-31", ["FT999", "31"]),
        ("12t coax 9999999999", ["9999999999"]),
        ("FT240-31 mix 43 12t coax", ["mix", "43"]),  # two mixes contradict each other
        ("12t coax FT240-99", ["99"]),
    ],
)
def test_words_without_a_meaning_are_shown(text, unknown):
    assert read_build_phrase(text, CATALOGUE).unknown == unknown


@pytest.mark.parametrize("text", ["", "!?", "😀 wire", "0 turns", "x" * 120, "1:0 balun", "((((", "-- - |"])
def test_nonsense_raises_nothing(text):
    read_build_phrase(text, CATALOGUE)


def test_what_is_missing_and_assumed_is_named():
    found = read_build_phrase("2.4 inch 12 turns", CATALOGUE)
    assert found.missing == ("the mix", "the winding (coax, bifilar, ...)")
    assert any("FT240" in each for each in found.assumed) and any("choke" in each for each in found.assumed)
