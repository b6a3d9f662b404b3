"""Every path of the fault search is walked, and each conclusion is held against the findings it names.

The order of steps is common practice, no source; see `fitness/fault_search.py`.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from measurements.fitness.fault_search import (
    CONTRADICTIONS,
    FINDINGS,
    OUTCOMES,
    PATHS,
    SKIPPED,
    STEP_KINDS,
    SYMPTOMS,
    DeviceKind,
    advise_next_step,
    classify_test_outcome,
    conclude,
    list_missing_steps,
    list_path,
)

CHOKE, VOLTAGE = DeviceKind(chokes=True), DeviceKind(chokes=False)
# what each conclusion may rest on, written down here once more and apart from the table under test
MAY_REST_ON = {
    "stay_away": {("ground_look", "danger")},
    "seen_from_ground": {("ground_look", "fault")},
    "plug_fault": {("line_parts", "plug_fault")},
    "arrester_fault": {("line_parts", "arrester_fault")},
    "ground_fault": {("line_parts", "ground_fault")},
    "line_bad": {("line", "bad")},
    "seen_fault": {("inspection", "fault")},
    "does_not_conduct": {("dc", "bad")},
    "transforms_wrong": {("load_test", "bad")},
    "chokes_too_little": {("common_mode", "bad")},
    "does_not_choke": {("device", "does_not_choke")},
    "worse_in_place": {("bypass", "device_makes_it_worse")},
    "device_changes_nothing": {("bypass", "device_changes_nothing")},
    "better_through_device": {("bypass", "better_through_device")},
    "changed_at_shack": {("shack_sweep", "changed")},
    "as_commissioned_now": {("shack_sweep", "as_commissioned")},
    "to_be_watched": {("inspection", "watch")},
    "watch_from_ground": {("ground_look", "watch")},
    "on_some_bands": {("common_mode", "mixed")},
    "matches_on_some_bands": {("load_test", "mixed")},
    "elsewhere": {("common_mode", "good")},
}


def walks(
    symptom: str, device: DeviceKind, outcomes: dict[str, str] | None = None
) -> Iterator[dict[str, str]]:
    """Every way that a search can go, each step with each outcome or passed over."""
    outcomes = outcomes or {}
    step = advise_next_step(symptom, outcomes, device)
    if step is None:
        yield outcomes
        return
    for outcome in (*OUTCOMES[step.step], SKIPPED):
        yield from walks(symptom, device, {**outcomes, step.step: outcome})


@pytest.mark.parametrize("device", [CHOKE, VOLTAGE], ids=["choke", "voltage"])
@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_every_path_ends_and_concludes_no_more_than_it_found(symptom: str, device: DeviceKind):
    ways = 0
    for outcomes in walks(symptom, device):
        ways += 1
        made = set(outcomes.items())
        given = made if device.chokes else made | {("device", "does_not_choke")}
        found = conclude(symptom, outcomes, device)
        assert found, outcomes
        for each in found:
            assert each.code in FINDINGS
            assert set(each.premises) <= given, (outcomes, each)
            if each.code in MAY_REST_ON:
                assert set(each.premises) == MAY_REST_ON[each.code]
            elif each.code == "nothing_found":
                assert set(each.premises) == {
                    pair for pair in made if pair[1] not in (SKIPPED, "unclear", "inconclusive")
                }
                assert not any(step == "inspection" and said == "watch" for step, said in each.premises)
            elif each.code == "nothing_known":
                assert each.premises == ()
        # a finding that is not good is never left out
        named = {pair for each in found for pair in each.premises}
        plain = {"good", SKIPPED, "unclear", "inconclusive"}
        assert {pair for pair in made if pair[1] not in plain} <= named, outcomes
        missing = list_missing_steps(symptom, outcomes, device)
        assert {step for step, said in outcomes.items() if said == SKIPPED} <= set(missing)
        assert set(missing) | set(outcomes) == set(list_path(symptom, device))
    assert ways > 50


def test_every_conclusion_can_be_reached():
    reached = {
        each.code
        for symptom in SYMPTOMS
        for device in (CHOKE, VOLTAGE)
        for step, outcomes in OUTCOMES.items()
        for outcome in (*outcomes, SKIPPED)
        for each in conclude(symptom, {step: outcome}, device)
    }
    assert reached == set(FINDINGS) - {"contradiction"}


def test_every_step_says_why_and_has_outcomes():
    for symptom in SYMPTOMS:
        for device in (CHOKE, VOLTAGE):
            outcomes: dict[str, str] = {}
            while (step := advise_next_step(symptom, outcomes, device)) is not None:
                assert step.why.endswith(".") and OUTCOMES[step.step]
                outcomes[step.step] = SKIPPED
            assert tuple(outcomes) == list_path(symptom, device)
    assert set(STEP_KINDS) == set(OUTCOMES) == {step for path in PATHS.values() for step in path}


def codes(symptom, device=CHOKE, **outcomes):
    return {each.code for each in conclude(symptom, outcomes, device)}


def test_a_bad_device_with_the_rest_passed_over_is_not_good_on_the_bench():
    """It was called "good on the bench, bad in its place" although nothing was tested on the bench."""
    made = {"bypass": "device_makes_it_worse", "dc": SKIPPED, "load_test": SKIPPED, "common_mode": SKIPPED}
    (found,) = conclude("high_swr", made)
    assert (found.code, found.premises) == ("worse_in_place", (("bypass", "device_makes_it_worse"),))
    assert {"dc", "load_test", "common_mode"} <= set(list_missing_steps("high_swr", made))


def test_a_choke_that_is_bad_and_an_antenna_as_it_is_are_both_named():
    assert codes("noise", common_mode="bad", bypass="device_changes_nothing") == {
        "chokes_too_little",
        "device_changes_nothing",
    }


def test_something_to_be_watched_is_not_all_good():
    found = codes("rf_in_shack", inspection="watch", dc="good", common_mode="good", line_parts="good")
    assert found == {"to_be_watched"}


def test_findings_that_contradict_each_other_are_both_named():
    for one, other in CONTRADICTIONS:
        made = {one[0]: one[1][0], other[0]: other[1][0]}
        (both,) = [each for each in conclude("high_swr", made) if each.code == "contradiction"]
        assert set(both.premises) == set(made.items())


def test_a_voltage_balun_is_not_sent_to_a_common_mode_test():
    for symptom in SYMPTOMS:
        assert "common_mode" not in list_path(symptom, VOLTAGE)
    assert codes("rf_in_shack", VOLTAGE) == {"does_not_choke"}
    assert "does_not_choke" not in codes("high_swr", VOLTAGE)
    assert "common_mode" in list_path("rf_in_shack", CHOKE)


def test_the_order_is_that_of_the_trade():
    order = ["ground_look", "shack_sweep", "line", "line_parts", "inspection", "bypass", "dc"]
    assert list(list_path("high_swr", CHOKE))[:7] == order
    assert all(path[0] == "ground_look" for path in PATHS.values())


@pytest.mark.parametrize("symptom", SYMPTOMS)
def test_danger_ends_every_search_at_once(symptom: str):
    assert advise_next_step(symptom, {"ground_look": "danger"}) is None
    assert codes(symptom, ground_look="danger") == {"stay_away"}


@pytest.mark.parametrize(
    ("kind", "judged", "said", "believed", "band", "outcome"),
    [
        ("load_match", [True, True], "", True, "", "good"),
        ("load_match", [False, False], "", True, "", "bad"),
        ("common_mode", [True, False], "", True, "", "mixed"),
        ("common_mode", [False], "", True, "160m", "bad"),
        ("common_mode", [None, True], "", True, "", "good"),
        ("common_mode", [None], "", True, "", "unclear"),
        ("common_mode", [True], "", False, "", "unclear"),
        ("in_situ", [], "device_makes_it_worse", True, "", "device_makes_it_worse"),
        ("in_situ", [], "device_at_fault", True, "", "inconclusive"),
        ("in_situ", [], "", True, "", "inconclusive"),
    ],
)
def test_what_a_test_came_out_as(kind, judged, said, believed, band, outcome):
    assert classify_test_outcome(kind, judged, said, believed, band) == outcome
