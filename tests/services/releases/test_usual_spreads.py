"""What a release keeps for the chance behind a verdict: persons, jigs and the usual spread of builds."""

from __future__ import annotations

import random

import numpy as np
import pytest

from measurements.models import Cell, Release
from measurements.selectors.designs import designs
from measurements.selectors.evidence import evidence_table
from measurements.services.nights import persons
from measurements.services.releases import releases
from measurements.services.releases.evidence_rows import PERSON_DTYPE
from measurements.verdict.band_verdict import judge_design
from tests import club, factories

pytestmark = pytest.mark.usefixtures("reference_data")


def make() -> int:
    return releases.make_release(rng=random.Random(4), files=False).number


def persons_of(design: str) -> np.ndarray:
    stored = Cell.objects.get(design__key=design, last_release=None).persons
    return np.frombuffer(bytes(stored), PERSON_DTYPE)


def test_a_cell_keeps_which_devices_are_of_one_person_and_not_of_whom():
    design = factories.evidence(3, devices_each=2)
    make()
    persons = persons_of(design)
    assert sorted(persons) == [0, 0, 1, 1, 2, 2]
    # numbered by the first row, and rows are in random order: a number says nothing of its person
    assert list(dict.fromkeys(persons)) == [0, 1, 2]


def test_the_devices_of_one_person_count_as_one_in_the_verdict():
    design = factories.evidence(3, devices_each=3)
    make()
    viewer = factories.member("reader")
    (band,) = designs.get_design_evidence(viewer, design, bands=("40m",))
    table = evidence_table.get_evidence_table()
    labels = persons_of(design).tolist()
    column_db = table.worst[:, table.bands.index("40m")]
    exact = judge_design(column_db[~np.isnan(column_db)], 20.0, labels)
    assert (band["devices"], band["contributors"], band["verdict"]) == (9, 3, exact.verdict)
    assert band["chance"] == pytest.approx(round(min(max(exact.chance, 0.1), 0.9), 1))


def test_a_cell_of_an_older_release_is_judged_by_the_persons_that_are_certain():
    design = factories.evidence(3, devices_each=2)
    make()
    Cell.objects.update(persons=b"")
    evidence_table._read_table.cache_clear()
    evidence_table._compute_verdict.cache_clear()
    (band,) = designs.get_design_evidence(factories.member("reader"), design, bands=("40m",))
    assert (band["devices"], band["contributors"]) == (6, 3)
    assert band["chance"] is not None


@pytest.mark.parametrize(
    ("nights", "one_jig"),
    [
        ([{"jig": "Blue box "}, {"jig": "blue box"}], True),
        ([{"jig": "blue box"}, {"jig": "red box"}], False),
        ([{}, {}], False),
        ([{"jig": "blue box"}, None], False),
    ],
)
def test_figures_of_nights_that_name_one_jig_are_of_one_jig(nights, one_jig):
    operator = club.operator()
    design = factories.design(operator)
    keys = [None if fields is None else club.night(operator, calibrated=True, **fields) for fields in nights]
    for person in range(4):
        by = factories.member(f"person-{person}") if keys[person % 2] is None else operator
        night = keys[person % 2]
        if night is None:
            factories.record(by, factories.device(by, design), factories.choke_s2p(seed=person))
            continue
        attendee = club.guest(operator, night, f"Guest {person}")
        device = club.guests_device(operator, night, attendee, design, tag=f"G-{person}")
        club.record(operator, device, night, factories.choke_s2p(seed=person), calibrated="true")
    for night in filter(None, keys):
        persons.confirm_guests(by=factories.member("Stella", "steward"), night=night)
    make()
    assert Cell.objects.get(design__key=design).one_jig is one_jig


def build_group(turns: range) -> None:
    for each in turns:
        factories.evidence(3, turns=each)


def learned() -> dict:
    return Release.objects.order_by("-number").values_list("usual_spreads", flat=True)[0]["common_mode"]


def test_a_usual_spread_is_learned_from_eight_designs_and_again_when_three_persons_joined():
    build_group(range(6, 13))
    make()
    assert learned() == {"spread": None, "learned_in": 1}
    build_group(range(13, 15))  # of the same persons: nobody joined
    make()
    assert learned() == {"spread": None, "learned_in": 1}
    factories.evidence(1, turns=15, first=0)
    factories.evidence(2, turns=15, first=10)
    make()
    assert learned()["learned_in"] == 1  # two persons are not enough
    factories.evidence(3, turns=16, first=12)
    make()
    now = learned()
    assert now["learned_in"] == 4
    # the builds of this group differ by 2 % of an impedance: some tenths of a decibel
    assert 0.1 < now["spread"] < 1.0
    assert evidence_table.get_evidence_table().usual_spread == now["spread"]
