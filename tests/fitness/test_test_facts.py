"""What a stored result says for upkeep; held against the group's limit, whatever its uploader asked for."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from measurements.fitness.test_facts import build_test_fact

LIMITS = {"common_mode": 20.0, "load_match": 1.5}


def fact(bands: list[dict[str, Any]], kind: str = "common_mode", flags: Any = (), **more: Any) -> Any:
    result = {"kind": kind, "method": "s21", "bands": bands, "flags": list(flags), "summary": {}}
    return build_test_fact(key="t", measured_on=date(2026, 1, 1), result=result, limits=LIMITS, **more)


def band(name: str, worst: float | None, meets: bool | None = True, metric: str = "rejection_db") -> Any:
    figures = None if worst is None else {"worst": worst, "centre": worst, "best": worst}
    return {"band": name, "coverage": "full", "meets": meets, metric: figures}


def flag(code: str, severity: str, on: str | None = None) -> dict[str, Any]:
    return {"code": code, "severity": severity, "message": f"{code}.", "band": on}


def test_a_lenient_benchmark_of_the_uploader_is_not_the_groups():
    """Uploaded against 10 dB, 15 dB 'meets'; the group's benchmark is 20 dB."""
    assert [each.meets for each in fact([band("40m", 15.0), band("20m", 25.0, False)]).bands] == [False, True]


def test_smaller_is_better_for_swr():
    found = fact([band("40m", 1.7, True, "swr"), band("20m", 1.3, True, "swr")], kind="load_match")
    assert [each.meets for each in found.bands] == [False, True]


def test_a_figure_without_u_is_held_to_what_still_means_something():
    """A result of an older engine: rejection counts to 2 dB, SWR to 0.15, loss to 0.25 dB (trade.md 7)."""
    found = fact([band("40m", 21.9), band("20m", 22.1), band("10m", 18.1, False)])
    assert [(each.meets, each.too_close) for each in found.bands] == [
        (None, True),
        (True, False),
        (None, True),
    ]


def test_a_figure_within_its_u_is_too_close():
    known = {**band("40m", 20.4, None), "decision": "too_close", "uncertainty": {"rejection_db": 0.6}}
    met = {**band("20m", 21.0), "decision": "meets", "uncertainty": {"rejection_db": 0.6}}
    found = fact([known, met]).bands
    assert [(each.meets, each.too_close, each.uncertainty) for each in found] == [
        (None, True, 0.6),
        (True, False, 0.6),
    ]


def test_a_band_swept_in_part_is_not_judged():
    part = {**band("40m", 30.0, None), "coverage": "partial", "decision": "not_judged"}
    assert (fact([part]).bands[0].meets, fact([part]).bands[0].too_close) == (None, False)


def test_a_test_that_waits_is_not_believed():
    found = fact([band("40m", 30.0)], waits_for="The check standard was out of control on that day.")
    assert not found.believed and "check standard" in found.why_not


@pytest.mark.parametrize(
    ("dc_type", "pairs", "shows"),
    [
        ("current_1_1", ("CA", "SB", "CS"), True),
        ("current_1_1", ("CA", "SB"), False),
        ("all_joined", ("CA", "SB", "CS"), False),
    ],
)
def test_readings_show_the_way_through_only_with_the_short(dc_type, pairs, shows):
    """trade.md 10: of a 1:1 current device C-A and S-B near 0, C-S open; elsewhere a fault may hide."""
    rows = [{"from": a, "to": b, "ohm": 0.1, "expected": "joined", "holds": True} for a, b in pairs]
    summary = {"readings": rows, "meets": True, "dc_type": dc_type}
    result = {"kind": "dc", "method": "ohmmeter", "bands": [], "flags": [], "summary": summary}
    found = build_test_fact(key="t", measured_on=date(2026, 1, 1), result=result, limits=LIMITS)
    assert found.dc is not None and found.dc.shows_through_path is shows


def test_what_was_not_judged_stays_so():
    found = fact([band("40m", 30.0, None), band("20m", None, None)])
    assert [each.meets for each in found.bands] == [None, None] and not found.useful


def test_bands_that_were_not_swept_are_left_out():
    assert fact([{**band("6m", None), "coverage": "none"}]).bands == ()


def test_a_flag_that_leaves_out_the_whole_test():
    found = fact([band("40m", 30.0)], flags=[flag("uncalibrated", "exclude")])
    assert not found.believed and found.why_not == "uncalibrated."


def test_a_flag_that_leaves_out_one_band():
    found = fact([band("40m", 30.0), band("20m", 30.0)], flags=[flag("gap_over_band", "exclude", "40m")])
    assert [each.meets for each in found.bands] == [None, True] and found.useful


def test_a_note_leaves_nothing_out():
    found = fact([band("40m", 30.0)], flags=[flag("jig_limited", "note", "40m")])
    assert found.useful and not found.bands[0].at_least


def test_at_least_is_said_of_a_bound_alone_and_a_bound_below_the_limit_is_no_failure():
    met = fact([{**band("40m", 30.0), "judged_by_bound": True}])
    assert met.bands[0].at_least and met.bands[0].meets is True
    below = fact([{**band("40m", 15.0), "judged_by_bound": True, "meets": None}])
    assert below.bands[0].meets is None


def test_a_steward_left_it_out():
    assert "wrong tag" in fact([band("40m", 30.0)], excluded_reason="wrong tag").why_not
