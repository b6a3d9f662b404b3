"""Designs like a half-typed recipe: the nearest first, what is missing is no difference."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from measurements.selectors.designs import similar_designs
from measurements.services.designs import designs
from tests import factories

LISTED = "2631803802"  # the core of factories.RECIPE: 61/35.55/12.7 mm, mix 31


@pytest.fixture
def stored(member, reference_data) -> dict[str, str]:
    made = {
        "usual": {},
        "eleven": {"turns": 11},
        "bifilar": {"style": "bifilar"},
        "43": {"mix": "43"},
        "balun": {"purpose": "balun", "ratio": "4:1"},
        "unlisted": {"outer_mm": 50.0, "inner_mm": 30.0},
        "far": {"turns": 5, "style": "single", "split": True, "conductor": "RG-316"},
    }
    return {name: factories.design(member, **changes) for name, changes in made.items()}


def keys(**typed) -> list[str]:
    return [row.key for row in similar_designs.list_similar_designs(typed)]


def test_the_same_recipe_comes_first_and_differs_in_nothing(stored):
    rows = similar_designs.list_similar_designs(designs.preview_design(factories.recipe()).as_json)
    assert rows[0].key == stored["usual"] and rows[0].differs == ()
    assert {row.key: row.differs for row in rows[1:]} == {
        stored["eleven"]: ("11 turns",),
        stored["bifilar"]: ("bifilar",),
    }


def test_the_fewest_differences_come_first_and_more_than_three_are_none(stored):
    winding = {"turns": 13, "style": "coax", "split": False, "conductor": "other"}
    rows = similar_designs.list_similar_designs(
        {"purpose": "choke", "cores": [{"part": LISTED}], "winding": winding}
    )
    assert [row.key for row in rows] == [stored["usual"], stored["eleven"], stored["bifilar"]]
    assert [len(row.differs) for row in rows] == [1, 1, 2]


def test_turns_that_are_further_apart_are_another_device(stored):
    assert keys(cores=[{"part": LISTED}], winding={"turns": 17, "style": "coax"}) == []
    assert stored["usual"] in keys(cores=[{"part": LISTED}], winding={"turns": 16, "style": "coax"})


@pytest.mark.parametrize(
    "typed",
    [
        {},
        {"purpose": "choke", "ratio": "1:1"},
        {"cores": [], "winding": None},
        {"cores": [None], "winding": {"turns": None, "style": "coax"}},
    ],
)
def test_nothing_is_like_what_has_neither_core_nor_turns(stored, typed):
    assert similar_designs.list_similar_designs(typed) == ()


def test_missing_and_half_typed_parts_are_no_difference(stored):
    assert stored["usual"] in keys(cores=[{"part": LISTED}])
    assert set(keys(winding={"turns": 11})) >= {stored["eleven"]}
    assert stored["balun"] in keys(purpose="balun", ratio="4:", winding={"turns": 12})
    assert stored["usual"] not in keys(purpose="balun", winding={"turns": 12})


def test_a_size_within_a_hundredth_of_a_listed_core_is_that_core(stored):
    size = {"shape": "toroid", "outer_mm": 61.5, "inner_mm": 35.6, "height_mm": 12.7, "mix": "31"}
    coax = {"turns": 12, "style": "coax"}
    assert keys(purpose="choke", cores=[size], winding=coax)[0] == stored["usual"]
    smaller = {**size, "outer_mm": 50.2, "inner_mm": None, "height_mm": None}
    assert keys(purpose="choke", cores=[smaller], winding={"turns": 12}) == [stored["unlisted"]]


def test_another_mix_of_the_same_size_is_a_difference(stored):
    size = {"shape": "toroid", "outer_mm": 61.0, "mix": "31"}
    rows = {
        row.key: row.differs
        for row in similar_designs.list_similar_designs({"cores": [size], "winding": {"turns": 12}})
    }
    assert rows[stored["43"]] == ("mix 43",)


def test_two_queries_whatever_there_is(stored):
    with CaptureQueriesContext(connection) as queries:
        similar_designs.list_similar_designs({"cores": [{"part": LISTED}], "winding": {"turns": 12}})
    assert len(queries) == 2
