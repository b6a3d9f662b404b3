"""What leaves of a verdict, for each circle."""

import json
from dataclasses import replace

import numpy as np
import pytest

from measurements.disclosure.evidence_view import build_evidence_view, round_chances
from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS, Thresholds
from measurements.verdict.band_verdict import judge_design

# The field names are fixed by the contract of the group's clients.
FIELDS = {
    "band",
    "benchmark_db",
    "chance",
    "verdict",
    "devices",
    "contributors",
    "passing",
    "share",
    "share_low",
    "share_high",
    "rejection_db",
}
FIGURES = {"median", "p10", "p90", "tolerance_low"}
VALUES_DB = [21.11, 22.22, 23.33, 24.44, 26.66]


def view(values_db, people, circle, thresholds=DEFAULT_THRESHOLDS):
    verdict = judge_design(values_db, 20.0, people)
    return build_evidence_view(verdict, band="40m", benchmark_db=20.0, circle=circle, thresholds=thresholds)


@pytest.mark.parametrize("circle", ["public", "members"])
@pytest.mark.parametrize("people", [2, 4, 5])
def test_the_fields_are_always_the_same(circle, people):
    got = view(VALUES_DB, people, circle)
    assert set(got) == FIELDS
    assert set(got["rejection_db"]) == FIGURES
    assert (got["band"], got["benchmark_db"]) == ("40m", 20.0)
    json.dumps(got, allow_nan=False)


def test_members_see_exact_figures():
    got = view(VALUES_DB, 5, "members")
    assert (got["devices"], got["contributors"], got["passing"], got["share"]) == (5, 5, 5, 1.0)
    assert got["rejection_db"]["median"] == 23.33
    assert None not in got["rejection_db"].values()


def test_the_public_sees_coarse_aggregates_only():
    got = view(VALUES_DB, 5, "public")
    assert got["verdict"] == "typically_meets"
    assert (got["devices"], got["contributors"]) == ("5-9", "5-9")
    assert [got[name] for name in ("passing", "share", "share_low", "share_high")] == [None] * 4
    figures = got["rejection_db"]
    assert (figures["median"], figures["p10"], figures["p90"]) == (23.5, None, None)
    assert (figures["tolerance_low"] * 2).is_integer()
    # no figure of a single device, neither smallest nor largest nor any between
    assert not any(str(value) in json.dumps(got) for value in VALUES_DB)


@pytest.mark.parametrize(
    ("people", "circle", "sees"),
    [(2, "members", False), (3, "members", True), (4, "public", False), (5, "public", True)],
)
def test_thresholds_of_the_circles(people, circle, sees):
    got = view(VALUES_DB, people, circle)
    assert (got["verdict"] != "not_enough_devices") == sees
    if not sees:
        hidden = {name: got[name] for name in FIELDS - {"band", "benchmark_db", "verdict", "rejection_db"}}
        assert set(hidden.values()) == {None}
        assert set(got["rejection_db"].values()) == {None}


def test_under_a_threshold_all_numbers_of_devices_look_alike():
    """Zero, one, two, four devices of too few people: not a byte differs."""
    views = [
        build_evidence_view(
            None, band="40m", benchmark_db=20.0, circle="members", thresholds=DEFAULT_THRESHOLDS
        ),
        view([], 0, "members"),
        view([30.0], 1, "members"),
        view([30.0, 31.0], 2, "members"),
        view([12.0] * 6, 2, "members"),
    ]
    assert len({json.dumps(v) for v in views}) == 1


def test_higher_thresholds_of_a_group_are_kept():
    strict = Thresholds(min_contributors=6, public_min_contributors=10)
    assert view([25.0] * 9, 5, "members", strict)["verdict"] == "not_enough_devices"
    assert view([25.0] * 9, 9, "members", strict)["verdict"] == "typically_meets"
    assert view([25.0] * 9, 9, "public", strict)["verdict"] == "not_enough_devices"


def chance_of(verdict, chance, persons, circle, *, house=True):
    got = round_chances(chance, verdict, persons, circle=circle, at_house_benchmark=house)
    return None if np.isnan(got) else round(float(got), 3)


@pytest.mark.parametrize(
    ("verdict", "chance", "persons", "members", "public"),
    [
        ("typically_meets", 0.8731, 9, 0.9, 0.9),
        ("typically_meets", 0.8731, 10, 0.87, 0.9),
        ("typically_meets", 0.9987, 40, 0.99, 0.9),
        ("typically_falls_short", 0.0001, 40, 0.01, 0.1),
        ("mixed", 0.7951, 9, 0.7, 0.7),
        ("mixed", 0.7961, 10, 0.79, 0.7),
        ("mixed", 0.2049, 5, 0.3, 0.3),
        ("mixed", 0.2049, 12, 0.21, 0.3),
        ("mixed", 0.5, 5, 0.5, 0.5),
    ],
)
def test_a_chance_is_as_fine_as_its_persons_allow_and_agrees_with_its_verdict(
    verdict, chance, persons, members, public
):
    assert chance_of(verdict, chance, persons, "members") == members
    assert chance_of(verdict, chance, persons, "public") == public


def test_the_chance_in_the_view_agrees_with_the_verdict_beside_it():
    """Rounded alone, 0.7961 would be 0.80, from which on a design typically meets."""
    judged = replace(judge_design([25.0] * 12, 25.0, 12), verdict="mixed", chance=0.7961)
    got = build_evidence_view(
        judged, band="40m", benchmark_db=25.0, circle="members", thresholds=DEFAULT_THRESHOLDS
    )
    assert (got["verdict"], got["chance"]) == ("mixed", 0.79)


def test_a_chance_at_another_benchmark_needs_ten_persons():
    assert chance_of("mixed", 0.5, 9, "members", house=False) is None
    assert chance_of("mixed", 0.5, 10, "members", house=False) == 0.5
    got = build_evidence_view(
        judge_design(VALUES_DB, 25.0, 5),
        band="40m",
        benchmark_db=25.0,
        circle="members",
        thresholds=DEFAULT_THRESHOLDS,
        house_benchmark_db=20.0,
    )
    assert got["chance"] is None and got["verdict"] != "not_enough_devices"
