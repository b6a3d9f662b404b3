"""What leaves of a verdict, for each circle."""

import json
from dataclasses import replace

import numpy as np
import pytest

from measurements.disclosure.evidence_view import build_evidence_view, round_chances
from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS, Thresholds
from measurements.verdict.band_verdict import judge_design
from measurements.verdict.histogram import build_histogram

# The field names are fixed by the contract of the group's clients.
FIELDS = {
    "band",
    "kind",
    "benchmark_db",
    "chance",
    "limit",
    "verdict",
    "reason",
    "devices",
    "contributors",
    "passing",
    "share",
    "share_low",
    "share_high",
    "rejection_db",
}
FIGURES = {"median", "p10", "p25", "p75", "p90", "tolerance_low", "histogram"}
DETAIL = {"passing", "share", "share_low", "share_high"}
FEW_DB = [21.11, 22.22, 23.33, 24.44, 26.66]
# ten persons, one device each
MANY_DB = [21.11, 22.22, 22.34, 23.33, 23.78, 24.44, 25.12, 26.66, 27.27, 28.91]


def view(values_db, people, circle, thresholds=DEFAULT_THRESHOLDS, *, benchmark_db=20.0):
    verdict = judge_design(values_db, benchmark_db, people)
    persons = np.arange(len(values_db)) % max(people, 1)
    return build_evidence_view(
        verdict,
        band="40m",
        limit=benchmark_db,
        circle=circle,
        thresholds=thresholds,
        house_limit=20.0,
        histogram=build_histogram(values_db, persons, 1.0),
    )


@pytest.mark.parametrize("circle", ["public", "members"])
@pytest.mark.parametrize(("values_db", "people"), [(FEW_DB, 2), (FEW_DB, 4), (FEW_DB, 5), (MANY_DB, 10)])
def test_the_fields_are_always_the_same(circle, values_db, people):
    got = view(values_db, people, circle)
    assert set(got) == FIELDS
    assert set(got["rejection_db"]) == FIGURES
    assert (got["band"], got["kind"], got["benchmark_db"]) == ("40m", "common_mode", 20.0)
    json.dumps(got, allow_nan=False)


@pytest.mark.parametrize(("circle", "count"), [("members", 5), ("public", "5-9")])
def test_below_ten_there_is_a_count_a_chance_in_tenths_and_a_median_in_whole_decibels(circle, count):
    got = view(FEW_DB, 5, circle)
    assert got["verdict"] == "typically_meets"
    assert (got["chance"] * 10) == pytest.approx(round(got["chance"] * 10))
    assert (got["devices"], got["contributors"]) == (count, count)
    assert {got[name] for name in DETAIL} == {None}
    assert got["rejection_db"] == {**dict.fromkeys(FIGURES), "median": 23.0}
    assert not any(str(value) in json.dumps(got) for value in FEW_DB)


def test_from_ten_on_members_see_detail_in_half_decibels():
    got = view(MANY_DB, 10, "members")
    assert (got["devices"], got["contributors"], got["passing"], got["share"]) == (10, 10, 10, 1.0)
    figures = got["rejection_db"]
    for name in FIGURES - {"histogram"}:
        assert (figures[name] * 2).is_integer(), name
    # numpy's own percentiles of the same figures are the reference
    for name, percent in (("p10", 10), ("p25", 25), ("median", 50), ("p75", 75), ("p90", 90)):
        assert abs(figures[name] - np.percentile(MANY_DB, percent)) <= 0.25
    assert sum(each["devices"] for each in figures["histogram"]) == 10
    assert all(each["devices"] >= 3 for each in figures["histogram"])
    assert (figures["histogram"][0]["from"], figures["histogram"][-1]["to"]) == (None, None)
    assert not any(str(value) in json.dumps(got) for value in MANY_DB)


def test_the_public_sees_the_same_from_ten_on_with_counts_as_bands():
    ours, theirs = view(MANY_DB, 10, "members"), view(MANY_DB, 10, "public")
    assert (theirs["devices"], theirs["contributors"], theirs["passing"]) == ("10-19", "10-19", None)
    without = {name: value for name, value in ours["rejection_db"].items() if name != "histogram"}
    assert without.items() <= theirs["rejection_db"].items()
    assert {each["devices"] for each in theirs["rejection_db"]["histogram"]} <= {"2-4", "5-9"}
    assert all(round(theirs[name], 1) == theirs[name] for name in ("share", "share_low", "share_high"))


@pytest.mark.parametrize("circle", ["members", "public"])
def test_another_benchmark_has_no_verdict_below_ten_and_says_why(circle):
    got = view(FEW_DB, 5, circle, benchmark_db=25.0)
    assert (got["verdict"], got["chance"]) == (None, None)
    assert "10 people" in got["reason"]
    assert got["rejection_db"]["median"] == 23.0
    assert view(MANY_DB, 10, circle, benchmark_db=25.0)["verdict"] == "typically_falls_short" or (
        view(MANY_DB, 10, circle, benchmark_db=25.0)["verdict"] == "mixed"
    )


@pytest.mark.parametrize(
    ("people", "circle", "sees"),
    [(2, "members", False), (3, "members", True), (4, "public", False), (5, "public", True)],
)
def test_thresholds_of_the_circles(people, circle, sees):
    got = view(FEW_DB, people, circle)
    assert (got["verdict"] != "not_enough_devices") == sees
    if not sees:
        hidden = {name: got[name] for name in FIELDS - {"band", "kind", "benchmark_db", "verdict"}}
        assert set(hidden.pop("rejection_db").values()) == {None}
        assert set(hidden.values()) == {None}


@pytest.mark.parametrize("benchmark_db", [20.0, 25.0])
def test_under_a_threshold_all_numbers_of_devices_look_alike(benchmark_db):
    """Zero, one, two, six devices of too few people: not a byte differs, whatever the benchmark."""
    views = [
        view([], 0, "members", benchmark_db=benchmark_db),
        view([30.0], 1, "members", benchmark_db=benchmark_db),
        view([30.0, 31.0], 2, "members", benchmark_db=benchmark_db),
        view([12.0] * 6, 2, "members", benchmark_db=benchmark_db),
    ]
    assert len({json.dumps(v) for v in views}) == 1


def test_thresholds_of_a_group_are_kept():
    strict = Thresholds(min_contributors=6, public_min_contributors=10, detail_min_contributors=12)
    assert view([25.0] * 9, 5, "members", strict)["verdict"] == "not_enough_devices"
    assert view([25.0] * 9, 9, "members", strict)["verdict"] == "typically_meets"
    assert view([25.0] * 9, 9, "public", strict)["verdict"] == "not_enough_devices"
    assert view([25.0] * 11, 11, "members", strict)["rejection_db"]["p10"] is None
    assert view([25.0] * 12, 12, "members", strict)["rejection_db"]["p10"] == 25.0


def chance_of(verdict, chance, persons, circle, *, house=True):
    got = round_chances(
        chance, verdict, persons, circle=circle, thresholds=DEFAULT_THRESHOLDS, at_house_benchmark=house
    )
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
    got = build_evidence_view(judged, band="40m", limit=25.0, circle="members", thresholds=DEFAULT_THRESHOLDS)
    assert (got["verdict"], got["chance"]) == ("mixed", 0.79)


def test_a_chance_at_another_benchmark_needs_ten_persons():
    assert chance_of("mixed", 0.5, 9, "members", house=False) is None
    assert chance_of("mixed", 0.5, 10, "members", house=False) == 0.5
