"""Equal builds meet; wrong ones are named, field by field."""

from __future__ import annotations

import pytest

from measurements.errors import BenchnightError
from measurements.services.designs import recipes
from measurements.services.designs.recipes import Catalogue, ListedCore
from tests.factories import recipe as given

CATALOGUE = Catalogue(
    cores=(
        ListedCore("2631803802", "toroid", "31", 61.0, 35.55, 12.7),
        ListedCore("5943003801", "toroid", "43", 61.0, 35.55, 12.7),
    ),
    mixes=("31", "43", "52", "unknown"),
    conductors=("RG-316", "RG-400"),
)


def normal(**changes):
    return recipes.normalise_recipe(given(**changes), CATALOGUE)


def fields_of(error: BenchnightError) -> set[str]:
    return {str(fault.field) for fault in error.errors}


@pytest.mark.parametrize(
    "changes",
    [
        {"outer_mm": 61.5},  # within 1 % of the listed size (contract, a recipe)
        {"outer_mm": "2.4016 in"},
        {"outer_mm": "6,1 cm"},
        {"mix": "mix 31"},
        {"mix": "#31"},
        {"turns": "12"},
        {"style": "Coax"},
        {"purpose": "choke", "principle": None},
        {"conductor": "other"},
    ],
)
def test_equal_builds_reach_the_same_design(changes):
    assert normal(**changes).sha256 == normal().sha256


def test_a_part_number_and_its_size_are_the_same_core():
    by_part = given()
    by_part["cores"] = [{"part": "2631 803802"}]
    assert recipes.normalise_recipe(by_part, CATALOGUE).sha256 == normal().sha256


def test_the_order_of_cores_does_not_matter():
    one, other = {"part": "2631803802", "stacked": 2}, {"part": "5943003801"}
    forwards, backwards = given(), given()
    forwards["cores"], backwards["cores"] = [one, other], [other, one]
    found = recipes.normalise_recipe(forwards, CATALOGUE)
    assert found.sha256 == recipes.normalise_recipe(backwards, CATALOGUE).sha256
    assert (found.mix, found.core_count) == ("31+43", 3)


@pytest.mark.parametrize(
    "changes",
    [{"outer_mm": 61.7}, {"mix": "43"}, {"turns": 11}, {"split": True}, {"style": "bifilar"}, {"stacked": 2}],
)
def test_different_builds_stay_apart(changes):
    assert normal(**changes).sha256 != normal().sha256


def test_a_size_that_is_not_listed_is_taken_as_it_is():
    (core,) = normal(outer_mm=50).as_json["cores"]
    assert core == {
        "shape": "toroid",
        "mix": "31",
        "outer_mm": 50.0,
        "inner_mm": 35.55,
        "height_mm": 12.7,
        "stacked": 1,
    }


def test_title_reads_like_a_label():
    assert normal().title == "12 turns coax on FT240-31 (61 mm, mix 31)"
    beads = normal(style="beads_on_coax", turns=1, stacked=30, conductor="RG-400").title
    assert beads == "30 × FT240-31 (61 mm, mix 31) on RG-400"
    balun = normal(purpose="balun", ratio="1:4", stacked=2, conductor="rg316", split=True)
    assert balun.title == (
        "4:1 current balun, 12 turns RG-316 on 2 stacked FT240-31 (61 mm, mix 31), split winding"
    )


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"purpose": "antenna"}, "purpose"),
        ({"principle": "magic", "purpose": "balun"}, "principle"),
        ({"ratio": "four"}, "ratio"),
        ({"ratio": "4:1"}, "ratio"),  # a choke does not transform
        ({"turns": 0}, "winding.turns"),
        ({"turns": 11.5}, "winding.turns"),
        ({"turns": True}, "winding.turns"),
        ({"style": "knitted"}, "winding.style"),
        ({"split": "perhaps"}, "winding.split"),
        ({"conductor": "my neighbour's wire"}, "winding.conductor"),
        ({"mix": "99"}, "cores.0.mix"),
        ({"shape": "pyramid"}, "cores.0.shape"),
        ({"outer_mm": "wide"}, "cores.0.outer_mm"),
        ({"outer_mm": float("nan")}, "cores.0.outer_mm"),
        ({"inner_mm": 70}, "cores.0.inner_mm"),
        ({"height_mm": None}, "cores.0.height_mm"),
        ({"stacked": 0}, "cores.0.stacked"),
    ],
)
def test_a_fault_names_its_field(changes, field):
    with pytest.raises(BenchnightError) as caught:
        normal(**changes)
    assert fields_of(caught.value) == {field}
    assert all(fault.detail for fault in caught.value.errors)


def test_all_faults_come_at_once():
    with pytest.raises(BenchnightError) as caught:
        normal(purpose="antenna", turns=0, mix="99")
    assert fields_of(caught.value) == {"purpose", "winding.turns", "cores.0.mix"}
    assert caught.value.code == "recipe.invalid"


def test_a_recipe_holds_no_free_text():
    """It is published: what is not in a list is refused, not filed (contract, a recipe)."""
    typed = given()
    typed["notes"] = "for the mast of Ada"
    typed["cores"][0]["colour"] = "grey"
    with pytest.raises(BenchnightError) as caught:
        recipes.normalise_recipe(typed, CATALOGUE)
    assert fields_of(caught.value) == {"notes", "cores.0.colour"}


@pytest.mark.parametrize("typed", [None, [], "choke", {"cores": {}, "winding": 3}, {"cores": []}])
def test_other_shapes_are_refused(typed):
    with pytest.raises(BenchnightError):
        recipes.normalise_recipe(typed, CATALOGUE)
