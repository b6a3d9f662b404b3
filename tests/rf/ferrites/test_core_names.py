"""Names of cores both ways. Sizes and names: general usage, from memory; 2.40 in is 61.0 mm by definition."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from measurements.rf.ferrites import core_names
from measurements.rf.ferrites.core_names import CoreLook

ROWS = json.loads(Path("fixtures/reference/cores.json").read_text(encoding="utf-8"))["rows"]


def look(row) -> CoreLook:
    return CoreLook(
        row["shape"], row["mix"], (row["outer_mm"], row["inner_mm"], row["height_mm"]), row["part"]
    )


@pytest.mark.parametrize("name", core_names.RING_SIZES)
def test_a_name_is_the_outer_diameter_in_hundredths_of_an_inch(name):
    """FT37 is 3/8 in, FT87 7/8 in, FT114 1 9/64 in: cut or rounded to hundredths (general usage)."""
    digits = int("".join(character for character in name if character.isdigit()))
    assert abs(core_names.RING_SIZES[name][0] / 0.254 - digits) <= 1.0


@pytest.mark.parametrize(
    ("part", "name"),
    [  # general usage, from memory
        ("2631803802", "FT240-31"),
        ("5943003801", "FT240-43"),
        ("5952003821", "FT240-52"),
        ("5943002701", "FT140-43"),
        ("5943001001", "FT114-43"),
        ("2631801202", "FT114A-31"),
        ("5943000601", "FT82-43"),
        ("5943000301", "FT50-43"),
        ("5943001101", "FT50A-43"),
        ("5943001901", "FT50B-43"),
        ("5943000201", "FT37-43"),
    ],
)
def test_listed_rings_carry_the_name_that_the_trade_says(part, name):
    (row,) = [each for each in ROWS if each["part"] == part]
    assert core_names.name_core(look(row)) == name


def test_another_height_of_a_named_diameter_gets_no_name():
    """The stack height decides A_L: a ring of 12.7/7.15/6.35 mm is none of the three FT50."""
    assert core_names.find_size_name("toroid", (12.7, 7.15, 6.35)) is None
    assert core_names.find_size_name("bead", (61.0, 35.55, 12.7)) is None
    assert core_names.find_size_name("toroid", (61.0, None, 12.7)) is None


def test_no_two_listed_cores_of_one_mix_share_a_name():
    named = [(core_names.name_core(look(row)), row["mix"], row["shape"]) for row in ROWS]
    assert len(named) == len(set(named))


def test_titles_and_descriptions():
    ring = CoreLook("toroid", "31", (61.0, 35.55, 12.7), "2631803802")
    assert core_names.title_core(ring) == "FT240-31 (61 mm, mix 31)"
    assert core_names.describe_core(ring) == (
        "FT240-31: 61 × 35.55 × 12.7 mm (2.40 × 1.40 × 0.50 in), mix 31, maker's number 2631803802"
    )
    assert core_names.title_core(CoreLook("toroid", "43", (51.0, 32.0, 19.0))) == (
        "toroid 51 × 32 × 19 mm (mix 43)"
    )
    assert core_names.title_core(CoreLook("toroid", "unknown", (61.0, 35.55, 12.7))) == (
        "FT240 (61 mm, mix unknown)"
    )


@pytest.mark.parametrize("typed", ["FT240-31", "ft240-31", "FT 240 - 31", "ft-240-31"])
def test_spellings_of_a_name_are_one(typed):
    assert core_names.squeeze_size_name(typed) == "FT240-31"
