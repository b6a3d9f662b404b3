"""Service states: each rule fires when it should, and the order between them holds.

Rules and order: common practice of whoever keeps a club's kit, no source; they are written down in
`fitness/service_state.py`.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from measurements.fitness.checklist import CHECKLIST_ITEMS
from measurements.fitness.service_facts import SERVICE_STATES, ServiceRules, list_decisive_kinds
from tests.fitness.upkeep_cases import TODAY, choke_test, codes, inspection, judged, of_kind

GOOD = {"b80m": 31.0, "b40m": 33.0, "b20m": 29.0}


def test_good_and_fresh_is_serviceable_with_what_it_is_good_for():
    service = judged(choke_test(**GOOD), inspection=inspection())
    assert service.state == "serviceable"
    assert codes(service) == ["meets", "through_path_unknown", "inspected", "not_all_looked_at"]
    assert "all 3 bands" in service.reasons[0].message and "29.0 dB on 20m" in service.reasons[0].message
    assert "benchmark 20 dB" in service.reasons[0].message
    assert service.next_step.code == "commission"
    assert service.due_on == TODAY - timedelta(days=10) + timedelta(days=365)


def test_a_commissioned_good_device_waits_until_it_is_due():
    service = judged(choke_test("t1", **GOOD), inspection=inspection(), baseline="t1")
    assert service.next_step.code == "wait" and "22 May 2027" in service.next_step.message
    assert service.baseline.chosen


def test_nothing_stored_is_untested():
    service = judged()
    assert service.state == "untested" and codes(service, "untested") == ["never_tested"]
    assert service.next_step.kind == "common_mode"


def test_a_test_that_is_not_believed_leaves_it_untested_and_says_why():
    service = judged(choke_test(why_not="This test was declared uncalibrated.", **GOOD))
    assert service.state == "untested" and codes(service, "untested") == ["nothing_judged"]
    assert "declared uncalibrated" in service.reasons[0].message


def test_short_on_every_band_is_unserviceable():
    service = judged(choke_test(b80m=12.0, b40m=9.5))
    assert service.state == "unserviceable" and codes(service, "unserviceable") == ["short_everywhere"]
    assert "9.5 dB on 40m" in service.reasons[0].message
    assert service.next_step.code == "find_fault"


def test_a_band_that_was_met_once_and_is_lost():
    service = judged(choke_test("t2", 5, b80m=31.0, b40m=14.0), choke_test("t1", 200, **GOOD))
    assert service.state == "unserviceable"
    (lost,) = [reason for reason in service.reasons if reason.code == "band_lost"]
    assert lost.band == "40m" and "14.0 dB" in lost.message and "33.0 dB" in lost.message


def test_a_band_never_met_is_watched_until_it_was_commissioned_so():
    test = choke_test("t1", b160m=12.0, b80m=31.0)
    watched = judged(test, inspection=inspection())
    assert (watched.state, codes(watched, "watch")) == ("watch", ["short_on_band"])
    assert watched.next_step.code == "commission"
    accepted = judged(test, inspection=inspection(), baseline="t1")
    assert accepted.state == "serviceable" and "not_for_band" in codes(accepted, "note")


@pytest.mark.parametrize(("worst", "state"), [(22.9, "watch"), (23.0, "serviceable"), (20.0, "watch")])
def test_near_the_benchmark(worst: float, state: str):
    service = judged(choke_test(b80m=31.0, b40m=worst))
    assert service.state == state


def test_the_margin_is_the_groups():
    assert judged(choke_test(b40m=24.0), rules=ServiceRules(watch_margin_db=5)).state == "watch"


def test_at_least_is_no_small_margin():
    """The jig hides how much better it is: 21 dB of a jig that ends there is not near the benchmark."""
    assert judged(choke_test(b40m=21.0, limited=("40m",))).state == "serviceable"


class TestDrift:
    older = choke_test("t1", 200, **GOOD)

    def test_beyond_what_is_allowed(self):
        service = judged(choke_test("t2", 5, b80m=27.5, b40m=33.0, b20m=29.0), self.older)
        assert (service.state, codes(service, "watch")) == ("watch", ["drifted"])
        assert (
            "3.5 dB less" in service.reasons[0].message and "nobody knows yet" in service.reasons[0].message
        )

    def test_within_what_is_allowed(self):
        assert judged(choke_test("t2", 5, b80m=28.0, b40m=33.0), self.older).state == "serviceable"

    def test_a_change_that_repeating_explains_is_none(self):
        now = choke_test("t2", 5, b80m=27.5, b40m=33.0, b20m=29.0)
        service = judged(now, self.older, yardstick=lambda: {"80m": 4.0})
        assert service.state == "serviceable"

    def test_a_real_one_names_the_yardstick(self):
        now = choke_test("t2", 5, b80m=27.5, b40m=33.0, b20m=29.0)
        service = judged(now, self.older, yardstick=lambda: {"80m": 1.2})
        assert "up to 1.2 dB" in service.reasons[0].message

    def test_better_than_before_is_a_note(self):
        service = judged(choke_test("t2", 5, b80m=36.0, b40m=33.0, b20m=29.0), self.older)
        assert service.state == "serviceable" and "drifted_up" in codes(service, "note")

    def test_the_yardstick_is_not_asked_for_without_need(self):
        def never():
            raise AssertionError("nothing changed")

        judged(choke_test("t2", 5, **GOOD), self.older, yardstick=never)

    def test_against_the_chosen_baseline(self):
        middle = choke_test("t1b", 100, b80m=27.0, b40m=33.0, b20m=29.0)
        now = choke_test("t2", 5, b80m=26.5, b40m=33.0, b20m=29.0)
        assert judged(now, middle, self.older).state == "watch"
        assert judged(now, middle, self.older, baseline="t1b").state == "serviceable"


class TestTime:
    @pytest.mark.parametrize(("days", "state"), [(365, "serviceable"), (366, "overdue")])
    def test_a_test_grows_old(self, days: int, state: str):
        service = judged(choke_test(days_ago=days, **GOOD), inspection=inspection())
        assert service.state == state

    def test_an_inspection_grows_old(self):
        service = judged(choke_test(**GOOD), inspection=inspection(400))
        assert codes(service, "overdue") == ["inspection_overdue"] and service.next_step.code == "inspect"

    def test_never_inspected_counts_from_the_first_test(self):
        service = judged(choke_test("t2", 10, **GOOD), choke_test("t1", 500, **GOOD))
        assert codes(service, "overdue") == ["inspection_overdue"]
        assert "Never inspected" in service.reasons[0].message

    def test_a_mark(self):
        service = judged(
            choke_test(**GOOD), inspection=inspection(), due_since=TODAY, due_reason="storm in March"
        )
        assert service.state == "overdue" and "storm in March" in service.reasons[0].message
        assert service.due_on == TODAY

    def test_nothing_is_due_of_a_retired_one(self):
        service = judged(choke_test(days_ago=900, **GOOD), retired_on=TODAY, due_since=TODAY)
        assert service.state == "serviceable" and service.due_on is None
        assert "retired" in codes(service) and service.next_step.code == "none"


class TestInspections:
    def test_a_fault(self):
        service = judged(choke_test(**GOOD), inspection=inspection(terminals="ok", moisture="fault"))
        assert service.state == "unserviceable" and "moisture" in service.reasons[0].message
        assert service.next_step.code == "mend"

    def test_to_be_watched(self):
        service = judged(choke_test(**GOOD), inspection=inspection(corrosion="watch"))
        assert service.state == "watch" and service.next_step.code == "inspect"


def test_what_does_not_apply_is_no_item_and_what_is_left_is_named():
    answers = {item.code: "ok" for item in CHECKLIST_ITEMS} | {"tracking": "does_not_apply"}
    service = judged(choke_test(**GOOD), inspection=inspection(**answers))
    (said,) = [each.message for each in service.reasons if each.code == "inspected"]
    assert "10 of 10 items that apply" in said and "not_all_looked_at" not in codes(service)
    service = judged(choke_test(**GOOD), inspection=inspection(**answers | {"core": "not_looked"}))
    assert "core" in next(each.message for each in service.reasons if each.code == "not_all_looked_at")


def test_a_fault_at_an_item_of_an_earlier_check_list_stands():
    service = judged(choke_test(**GOOD), inspection=inspection(dc="fault"))
    assert service.state == "unserviceable" and "DC continuity" in service.reasons[0].message


class TestAtTheAntenna:
    def test_worse_in_its_place_is_no_proof_and_asks_for_the_bench(self):
        service = judged(of_kind("in_situ", "i", 3, "device_makes_it_worse"), choke_test(**GOOD))
        assert service.state == "watch" and "worse_in_place" in codes(service)

    def test_a_later_bench_test_clears_it(self):
        service = judged(choke_test("t2", 2, **GOOD), of_kind("in_situ", "i", 3, "device_makes_it_worse"))
        assert service.state == "serviceable"

    def test_no_other_finding_says_anything_of_the_device(self):
        for finding in ("device_changes_nothing", "better_through_device", "inconclusive"):
            service = judged(of_kind("in_situ", "i", 3, finding), choke_test(**GOOD))
            assert service.state == "serviceable", finding


class TestOrder:
    """Each of the five beats those after it."""

    def test_a_fault_beats_everything(self):
        service = judged(inspection=inspection(900, terminals="fault"), due_since=TODAY)
        assert service.state == "unserviceable"
        assert {"untested", "overdue"} <= {reason.weight for reason in service.reasons}

    def test_untested_beats_overdue(self):
        assert judged(due_since=TODAY).state == "untested"

    def test_overdue_beats_watch(self):
        service = judged(choke_test(b40m=21.0, days_ago=900))
        assert service.state == "overdue" and "small_margin" in codes(service, "watch")

    def test_reasons_come_in_that_order(self):
        service = judged(
            choke_test(b80m=12.0, b40m=21.0, days_ago=900), inspection=inspection(5, terminals="fault")
        )
        weights = [reason.weight for reason in service.reasons]
        assert weights == sorted(weights, key=[*SERVICE_STATES[:-1], "note"].index)


class TestWhatTells:
    def test_kinds(self):
        assert list_decisive_kinds("choke", "current") == ("common_mode",)
        assert list_decisive_kinds("balun", "current") == ("common_mode",)
        assert "common_mode" not in list_decisive_kinds("balun", "voltage")
        assert "common_mode" not in list_decisive_kinds("unun", "current")

    def test_a_voltage_balun_is_not_held_to_choke(self):
        service = judged(
            of_kind("load_match", b40m=1.2),
            choke_test(b40m=3.0),
            purpose="balun",
            principle="voltage",
            inspection=inspection(),
        )
        assert service.state == "serviceable" and "not_there_to_choke" in codes(service, "note")

    def test_a_choke_needs_the_common_mode_test(self):
        assert judged(of_kind("insertion_loss", b40m=0.1)).state == "untested"

    def test_another_kind_that_falls_short_counts_too(self):
        service = judged(of_kind("insertion_loss", b40m=0.9), choke_test(**GOOD))
        assert service.state == "unserviceable" and "0.90 dB" in service.reasons[0].message


def test_the_newest_that_is_not_believed_is_said():
    service = judged(choke_test("t2", 1, why_not="Left out.", **GOOD), choke_test("t1", 30, **GOOD))
    assert (service.state, codes(service, "watch")) == ("watch", ["newer_not_believed"])


def test_no_reason_speaks_of_power_ratings():
    for service in (judged(), judged(choke_test(**GOOD)), judged(choke_test(b40m=3.0))):
        text = " ".join(reason.message for reason in service.reasons) + service.next_step.message
        assert "watt" not in text.lower() and "rating" not in text.lower()
