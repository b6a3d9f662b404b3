"""Every path ends, each of its findings can be reached, and each step says why it comes next.

The order of steps is common practice, no source; see `fitness/fault_search.py`.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from measurements.fitness.fault_search import (
    FINDINGS,
    SEARCH_PATHS,
    SYMPTOMS,
    advise_next_step,
    classify_test_outcome,
    conclude_finding,
)

OUTCOMES = {
    "bypass": (
        "device_at_fault",
        "antenna_or_line_at_fault",
        "no_fault_found",
        "inconclusive",
        "unclear",
        "skipped",
    ),
    "load_test": ("good", "bad", "unclear", "skipped"),
    "common_mode": ("good", "bad", "unclear", "skipped"),
    "inspection": ("good", "watch", "fault", "skipped"),
}


def walks(symptom: str, outcomes: dict[str, str] | None = None) -> Iterator[dict[str, str]]:
    """Every way that a search can go."""
    outcomes = outcomes or {}
    step = advise_next_step(symptom, outcomes)
    if step is None:
        yield outcomes
        return
    for outcome in OUTCOMES[step.step]:
        yield from walks(symptom, {**outcomes, step.step: outcome})


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_every_way_ends_in_a_finding_without_a_step_twice(symptom: str):
    ways = list(walks(symptom))
    assert len(ways) > 10
    for outcomes in ways:
        assert conclude_finding(symptom, outcomes) in FINDINGS
        assert set(outcomes) <= set(SEARCH_PATHS[symptom])


def test_every_finding_can_be_reached():
    reached = {conclude_finding(symptom, outcomes) for symptom in SYMPTOMS for outcomes in walks(symptom)}
    assert reached == set(FINDINGS)


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_every_step_says_why(symptom: str):
    for outcomes in walks(symptom):
        for count in range(len(outcomes)):
            step = advise_next_step(symptom, dict(list(outcomes.items())[:count]))
            assert step is not None and step.why.endswith(".")


def test_a_high_swr_begins_with_the_jumper():
    assert advise_next_step("high_swr", {}).step == "bypass"


def test_an_antenna_that_is_bad_by_itself_ends_the_search():
    outcomes = {"bypass": "antenna_or_line_at_fault"}
    assert advise_next_step("high_swr", outcomes) is None
    assert conclude_finding("high_swr", outcomes) == "antenna_or_line"


def test_bad_in_its_place_goes_to_the_bench_and_then_inside():
    outcomes = {"bypass": "device_at_fault"}
    assert advise_next_step("high_swr", outcomes).step == "load_test"
    outcomes["load_test"] = "bad"
    assert (
        advise_next_step("high_swr", outcomes).step == "inspection"
    )  # whether it chokes does not matter now
    outcomes["inspection"] = "good"
    assert (advise_next_step("high_swr", outcomes), conclude_finding("high_swr", outcomes)) == (
        None,
        "transforms_wrong",
    )


def test_good_on_the_bench_and_bad_in_its_place():
    outcomes = {
        "bypass": "device_at_fault",
        "load_test": "good",
        "common_mode": "good",
        "inspection": "good",
    }
    assert conclude_finding("high_swr", outcomes) == "only_in_place"


def test_what_is_seen_is_surer_than_any_figure():
    outcomes = {"bypass": "device_at_fault", "load_test": "bad", "inspection": "fault"}
    assert conclude_finding("high_swr", outcomes) == "seen_fault"


@pytest.mark.parametrize(
    ("kind", "judged", "said", "believed", "outcome"),
    [
        ("load_match", [True, True], "", True, "good"),
        ("load_match", [True, False], "", True, "bad"),
        ("common_mode", [None, True], "", True, "good"),
        ("common_mode", [None], "", True, "unclear"),
        ("common_mode", [True], "", False, "unclear"),
        ("in_situ", [], "device_at_fault", True, "device_at_fault"),
        ("in_situ", [], "", True, "inconclusive"),
    ],
)
def test_what_a_test_came_out_as(kind, judged, said, believed, outcome):
    assert classify_test_outcome(kind, judged, said, believed) == outcome
