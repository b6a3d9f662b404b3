"""Core rows: sizes, published A_L against A_L from the size, and sizes that must not be mistaken."""

from __future__ import annotations

import itertools
import math

import pytest

from tests.fixtures_data import reference_rows

SHAPES = {"toroid", "binocular", "bead", "rod", "other"}
USUAL_TOLERANCE_PERCENT = 25  # makers give 20 to 25 %: common practice, no source


def a_l_nh(outer_mm: float, inner_mm: float, height_mm: float, mu_i: float) -> float:
    """mu0 mu_i h ln(OD/ID) / 2 pi, the textbook formula of a ring of rectangular section; nH."""
    return 0.2 * mu_i * height_mm * math.log(outer_mm / inner_mm)


def size(row: dict) -> tuple[float, float, float]:
    return row["outer_mm"], row["inner_mm"], row["height_mm"]


def initial_permeability(name: str) -> float:
    return reference_rows.one("mixes", name=name)["initial_permeability"]


@pytest.mark.parametrize(
    ("dimensions_mm", "mu_i", "expected_nh"),
    [  # computed independently of this project, from the ring core formulas
        ((61, 35.55, 12.7), 800, 1097.1),
        ((61, 35.55, 12.7), 850, 1165.7),
        ((35.55, 23, 12.7), 125, 138.3),
        ((29, 19, 7.5), 2000, 1269),
        ((21, 13.2, 6.35), 800, 471.7),
    ],
)
def test_the_formula_of_these_tests(dimensions_mm: tuple, mu_i: float, expected_nh: float) -> None:
    assert a_l_nh(*dimensions_mm, mu_i) == pytest.approx(expected_nh, rel=4e-4)


@pytest.mark.parametrize(
    ("part", "mix", "dimensions_mm", "nh"),
    [
        # maker's figures (Fair-Rite), second-hand
        ("5943002701", "43", (35.55, 23, 12.7), 885),
        ("5943001001", "43", (29, 19, 7.5), 510),
        ("5943000601", "43", (21, 13.2, 6.35), 470),
        ("5943000301", "43", (12.7, 7.15, 4.9), 440),
        ("2631803802", "31", (61, 35.55, 12.7), None),
        ("2631801202", "31", (29, 19, 13.85), None),
        # A_L from memory
        ("5943003801", "43", (61, 35.55, 12.7), 1075),
        # older list of a distributor, from memory
        ("5961003801", "61", (61, 35.55, 12.7), 173),
        ("5977003801", "77", (61, 35.55, 12.7), 2725),
        ("5961002701", "61", (35.55, 23, 12.7), 140),
        ("5977002701", "77", (35.55, 23, 12.7), 2250),
        ("5961001001", "61", (29, 19, 7.5), 79.3),
        ("5977001001", "77", (29, 19, 7.5), 1270),
        # an open table of core shapes, read in November 2026
        ("5952020801", "52", (35.25, 22.6, 12.7), None),
        ("5943017501", "43", (102, 65.8, 15), None),
        ("5943015901", "43", (100, 55, 12.7), None),
        ("5978014001", "78", (101.6, 75.2, 24.75), None),
    ],
)
def test_published_figures(part: str, mix: str, dimensions_mm: tuple, nh: float | None) -> None:
    row = reference_rows.one("cores", part=part)
    assert (row["shape"], row["mix"], size(row), row["al_nh"]) == ("toroid", mix, dimensions_mm, nh)


def test_published_a_l_agrees_with_the_size_within_tolerance() -> None:
    seen = 0
    for row in reference_rows.rows("cores"):
        if row["al_nh"] is None:
            assert row["al_tolerance_percent"] is None, row
            continue
        seen += 1
        tolerance = (row["al_tolerance_percent"] or USUAL_TOLERANCE_PERCENT) / 100
        computed = a_l_nh(*size(row), initial_permeability(row["mix"]))
        assert row["al_nh"] == pytest.approx(computed, rel=tolerance), row
        # every figure found so far is far closer than its tolerance: 3 % would show a wrong mix or size
        assert row["al_nh"] == pytest.approx(computed, rel=0.03), row
    assert seen == 11


def test_only_the_published_tolerance_is_given() -> None:
    given = {row["part"]: row["al_tolerance_percent"] for row in reference_rows.rows("cores")}
    # maker's figure (Fair-Rite), second-hand
    assert {part: tolerance for part, tolerance in given.items() if tolerance is not None} == {
        "5943002701": 20
    }


def test_sizes_are_possible() -> None:
    for row in reference_rows.rows("cores"):
        assert row["shape"] in SHAPES, row
        if row["shape"] in ("toroid", "bead"):
            outer, inner, height = size(row)
            assert 0 < inner < outer <= 110, row
            assert 0 < height < 50, row


def test_every_mix_of_a_core_is_listed() -> None:
    names = {row["name"] for row in reference_rows.rows("mixes")}
    assert {row["mix"] for row in reference_rows.rows("cores")} <= names


def test_the_number_of_a_toroid_names_its_mix() -> None:
    # the maker's numbers (Fair-Rite) begin with class (26, 28, 59) and mix: seen in every number above
    for row in reference_rows.rows("cores"):
        assert row["part"][:2] in ("26", "28", "59"), row
        assert row["part"][2:4] == row["mix"], row


def test_no_size_within_one_percent_can_mean_two_parts() -> None:
    """A recipe that gives a size within 1 % of a listed toroid means that toroid; two can never be meant."""
    toroids = [row for row in reference_rows.rows("cores") if row["shape"] == "toroid"]
    for first, second in itertools.combinations(toroids, 2):
        if first["mix"] != second["mix"]:
            continue
        apart = max(max(a, b) / min(a, b) for a, b in zip(size(first), size(second), strict=True))
        assert apart > 1.0202, (first["part"], second["part"])


def test_shapes_other_than_toroids() -> None:
    # build notes that quote the maker's parts, second-hand
    assert size(reference_rows.one("cores", part="2843000202")) == (13.3, None, 14.4)
    assert size(reference_rows.one("cores", part="2643625002")) == (16.25, 7.29, 14.3)
    assert not [row for row in reference_rows.rows("cores") if row["shape"] == "rod"]
    assert "rods" in reference_rows.content("cores")["note"]
