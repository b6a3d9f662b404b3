"""Neighbours differ in one thing only and have evidence that the viewer may see."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from measurements.disclosure.viewers import ANONYMOUS
from measurements.selectors.designs import designs, similar_designs
from measurements.services.releases import releases
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def twelve(reference_data) -> str:
    """A design of twelve turns among others of one step, two steps, and too few people."""
    key = factories.evidence(3, turns=12)
    factories.evidence(5, turns=14, first=3)
    factories.evidence(3, turns=11, first=8)
    factories.evidence(3, turns=12, mix="43", first=11)
    factories.evidence(3, turns=12, stacked=2, first=14)
    factories.evidence(3, turns=12, style="bifilar", first=17)
    factories.evidence(3, turns=20, first=20)  # too far
    factories.evidence(3, turns=13, mix="43", first=23)  # two steps
    factories.evidence(2, turns=13, first=26)  # nothing published
    releases.make_release()
    return key


def of_design(viewer, key, **asked):
    return similar_designs.list_neighbours(viewer, designs.get_design(viewer, key), **asked)


def test_one_step_in_words(twelve):
    found = of_design(factories.member("reader"), twelve)
    assert [row.step for row in found] == [
        "one fewer turn",
        "same turns, other mix",
        "same turns, other stack",
        "same turns, other wire",
        "two more turns",
    ]
    assert found[-1].design.turns == 14


def test_the_public_sees_only_the_neighbour_it_may(twelve):
    assert [row.step for row in of_design(ANONYMOUS, twelve)] == ["two more turns"]


def test_queries_do_not_grow_with_the_neighbours(twelve):
    reader = factories.member("reader")
    other = of_design(reader, twelve)[-1].design.key
    assert 1 <= len(of_design(reader, other)) < 5
    counts = []
    for key in (twelve, other):
        of_design(reader, key)
        with CaptureQueriesContext(connection) as queries:
            of_design(reader, key)
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 14


def test_they_answer_the_bands_that_are_asked(twelve):
    reader = factories.member("reader")
    found = of_design(reader, twelve, bands=("80m", "40m"))
    assert [shown["band"] for shown in found[0].design.evidence] == ["80m", "40m"]
    assert found[0].design.joint["devices"] == 3
    assert of_design(reader, twelve, bands=("6m",)) == ()  # every sweep ends at 30 MHz
