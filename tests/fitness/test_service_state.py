"""Service states: each rule fires when it should, and the order between them holds.

Rules and order: common practice of whoever keeps a club's kit, no source; they are written down in
`fitness/service_state.py`. What must never be serviceable: `test_wrong_serviceable.py`.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from measurements.fitness.service_facts import CORE_BANDS, SERVICE_STATES, ServiceRules, list_decisive_kinds
from tests.fitness.upkeep_cases import (
    CORE,
    TODAY,
    ago,
    choke_test,
    codes,
    inspected,
    inspection,
    judged,
    loss,
    mark,
    match,
    of_kind,
    readings,
    repeats,
    sound,
)


def with_test(test, **more):
    """The service of a choke that lacks nothing but what this newest test says."""
    return sound(tests=(test, match()), **more)


class TestServiceable:
    def test_it_says_band_by_band_what_it_rests_on(self):
        service = sound()
        assert service.state == "serviceable"
        assert codes(service) == ["meets", "meets", "inspected"]
        assert "all 8 bands" in service.reasons[0].message and "benchmark 20 dB" in service.reasons[0].message
        rests = {(row.kind, row.band) for row in service.rests_on}
        assert rests == {(kind, band) for kind in ("common_mode", "load_match") for band in CORE_BANDS}
        assert service.rests_on[0].message == "rejection 30.0 dB (benchmark 20 dB)"
        assert service.rests_on[0].answered_on == ago(10) and service.rests_on[0].test == "t1"
        assert service.next_step.code == "commission"
        assert service.due_on == ago(10) + timedelta(days=365)

    def test_it_says_what_it_does_not_cover(self):
        service = sound(tests=(choke_test(**CORE, b160m=12.0), of_kind("load_match", b40m=1.1)))
        assert service.state == "serviceable" and "not_for_band" in codes(service, "note")
        assert service.not_covered == (
            "Common mode on 160m: beyond the limit.",
            "Load match on 80m, 30m, 20m, 17m, 15m, 12m, 10m, 160m: not tested.",
            "Insertion loss: not tested.",
        )

    def test_a_commissioned_good_device_waits_until_it_is_due(self):
        service = sound(baseline="t1")
        assert service.next_step.code == "wait" and "22 May 2027" in service.next_step.message
        assert service.baseline.chosen

    def test_of_one_band_once_that_is_what_it_was_commissioned_for(self):
        test = choke_test("t1", b40m=31.0)
        assert codes(with_test(test), "untested") == ["bands_untested"]
        service = with_test(test, baseline="t1")
        assert service.state == "serviceable"
        assert [row.band for row in service.rests_on if row.kind == "common_mode"] == ["40m"]

    def test_readings_show_the_way_through_of_a_choke(self):
        assert sound(tests=(choke_test(**CORE), readings())).state == "serviceable"

    def test_an_unun_by_loss_and_match(self):
        service = judged(loss(), match(), purpose="unun", principle="voltage", inspections=(inspected(),))
        assert service.state == "serviceable"
        assert "Choking" in service.not_covered[-1]


def test_nothing_stored_is_untested():
    service = judged()
    assert service.state == "untested"
    assert codes(service, "untested") == ["never_tested", "through_path_unknown"]
    assert codes(service, "overdue") == ["never_inspected"]
    assert service.next_step.kind == "common_mode" and service.rests_on == ()


def test_a_test_that_is_not_believed_leaves_it_untested_and_says_why():
    service = with_test(choke_test(why_not="This test was declared uncalibrated.", **CORE))
    assert service.state == "untested" and codes(service, "untested") == ["nothing_judged"]
    assert "declared uncalibrated" in service.reasons[0].message


def test_short_on_every_band_is_unserviceable():
    service = judged(choke_test(b80m=12.0, b40m=9.5))
    assert service.state == "unserviceable" and codes(service, "unserviceable") == ["short_everywhere"]
    assert "9.5 dB on 40m" in service.reasons[0].message
    assert service.next_step.code == "find_fault"


def test_a_band_that_was_met_once_and_is_lost():
    service = judged(
        choke_test("t2", 5, **CORE | {"b40m": 14.0}), choke_test("t1", 200, **CORE | {"b40m": 33.0})
    )
    assert service.state == "unserviceable"
    (lost,) = [reason for reason in service.reasons if reason.code == "band_lost"]
    assert lost.band == "40m" and "14.0 dB" in lost.message and "33.0 dB" in lost.message


def test_a_core_band_never_met_is_watched_until_it_was_commissioned_so():
    test = choke_test("t1", **CORE | {"b80m": 12.0})
    watched = with_test(test)
    assert (watched.state, codes(watched, "watch")) == ("watch", ["short_on_band"])
    assert watched.next_step.code == "commission"
    accepted = with_test(test, baseline="t1")
    assert accepted.state == "serviceable" and "not_for_band" in codes(accepted, "note")


class TestNearTheLimit:
    """At 21.0 dB a choke meets 20 dB: watched only where U or repeating may put it beyond."""

    @pytest.mark.parametrize("worst", [21.0, 20.0, 22.9])
    def test_alone_it_is_no_reason(self, worst: float):
        assert with_test(choke_test(**CORE | {"b40m": worst})).state == "serviceable"

    def test_within_u_of_the_limit(self):
        service = with_test(choke_test(close=("40m",), **CORE | {"b40m": 20.4}))
        assert (service.state, codes(service, "watch")) == ("watch", ["too_close"])
        assert "20.4 dB" in service.reasons[0].message

    def test_within_what_repeating_explains(self):
        test = choke_test(**CORE | {"b40m": 21.0})
        service = with_test(test, yardstick=repeats(common_mode={"40m": 1.3}))
        assert (service.state, codes(service, "watch")) == ("watch", ["small_margin"])
        service = with_test(test, yardstick=repeats(common_mode={"40m": 0.7}))
        assert service.state == "serviceable"

    def test_the_yardstick_is_of_the_kind(self):
        tests = (choke_test(**CORE), match(swr=1.4))
        assert sound(tests=tests, yardstick=repeats(common_mode={"40m": 1.3})).state == "serviceable"
        service = sound(tests=tests, yardstick=repeats(load_match={"40m": 0.15}))
        assert codes(service, "watch") == ["small_margin"] and "SWR 1.40" in service.reasons[0].message

    def test_the_margin_is_the_groups(self):
        test = choke_test(**CORE | {"b40m": 24.0})
        assert with_test(test, rules=ServiceRules(watch_margin_db=5)).state == "watch"

    def test_at_least_is_no_small_margin(self):
        """The jig hides how much better it is: 21 dB of a jig that ends there is not near the benchmark."""
        test = choke_test(**CORE | {"b40m": 21.0}, limited=("40m",))
        assert with_test(test, rules=ServiceRules(watch_margin_db=3)).state == "serviceable"


def test_the_yardstick_is_not_asked_for_without_need():
    def never(_kind):
        raise AssertionError("nothing is near its limit, and nothing changed")

    assert sound(yardstick=never).state == "serviceable"


class TestDrift:
    older = choke_test("t1", 200, **CORE)

    def judge(self, now, *before, **more):
        return sound(tests=(now, *(before or (self.older,)), match()), **more)

    def test_beyond_what_is_allowed(self):
        service = self.judge(choke_test("t2", 5, **CORE | {"b80m": 26.5}))
        assert (service.state, codes(service, "watch")) == ("watch", ["drifted"])
        assert "3.5 dB less" in service.reasons[0].message
        assert "nobody knows yet" in service.reasons[0].message

    def test_within_what_is_allowed(self):
        assert self.judge(choke_test("t2", 5, **CORE | {"b80m": 27.5})).state == "serviceable"

    def test_a_change_that_repeating_explains_is_none(self):
        now = choke_test("t2", 5, **CORE | {"b80m": 26.5})
        service = self.judge(now, yardstick=repeats(common_mode={"80m": 4.0}))
        assert service.state == "serviceable"

    def test_a_change_within_its_uncertainty_is_none(self):
        now = choke_test("t2", 5, uncertainty=3.6, **CORE | {"b80m": 26.5})
        assert self.judge(now).state == "serviceable"

    def test_a_real_one_names_the_yardstick(self):
        now = choke_test("t2", 5, **CORE | {"b80m": 26.5})
        service = self.judge(now, yardstick=repeats(common_mode={"80m": 1.2}))
        assert "up to 1.2 dB" in service.reasons[0].message

    def test_better_than_before_is_a_note(self):
        service = self.judge(choke_test("t2", 5, **CORE | {"b80m": 36.0}))
        assert service.state == "serviceable" and "drifted_up" in codes(service, "note")

    def test_other_kinds_have_limits_of_their_own(self):
        tests = (choke_test(**CORE), match("m2", 5, swr=1.35), match("m1", 200, swr=1.1))
        service = sound(tests=tests)
        assert codes(service, "watch") == ["drifted"] and "SWR 0.25 more" in service.reasons[0].message
        assert sound(tests=tests, rules=ServiceRules(drift_swr=0.3)).state == "serviceable"

    def test_against_the_chosen_baseline(self):
        middle = choke_test("t1b", 100, **CORE | {"b80m": 26.8})
        now = choke_test("t2", 5, **CORE | {"b80m": 26.5})
        assert self.judge(now, middle, self.older).state == "watch"
        assert self.judge(now, middle, self.older, baseline="t1b").state == "serviceable"


class TestTime:
    @pytest.mark.parametrize(("days", "state"), [(365, "serviceable"), (366, "overdue")])
    def test_a_test_grows_old(self, days: int, state: str):
        assert with_test(choke_test(days_ago=days, **CORE)).state == state

    def test_every_band_has_a_year_of_its_own(self):
        service = sound(tests=(choke_test("t2", 5, b40m=30.0), choke_test("t1", 400, **CORE), match()))
        (late,) = [reason for reason in service.reasons if reason.code == "test_overdue"]
        assert "80m, 30m" in late.message and "40m" not in late.message

    def test_an_inspection_grows_old_item_by_item(self):
        service = sound(inspections=(inspected(400), inspection(5, moisture="ok")))
        (late,) = [reason for reason in service.reasons if reason.code == "inspection_overdue"]
        assert "moisture" not in late.message and "core" in late.message
        assert service.next_step.code == "inspect"

    def test_never_inspected_is_a_reason_of_its_own(self):
        service = sound(inspections=())
        assert (service.state, codes(service, "overdue")) == ("overdue", ["never_inspected"])
        assert service.next_step.code == "inspect" and service.due_on <= TODAY

    def test_a_mark_names_what_clears_it(self):
        service = sound(marks=(mark("storm", reason="storm in May"),))
        assert service.state == "overdue" and "storm in May" in service.reasons[0].message
        assert "plugs" in service.reasons[0].message and "load match" in service.reasons[0].message
        assert service.due_on == ago(3)

    def test_what_a_mark_names_clears_it(self):
        after = inspected(1)
        service = sound(match("m2", 1), inspections=(inspected(), after), marks=(mark("storm"),))
        assert service.state == "serviceable"
        assert len([row for row in service.rests_on if row.kind == "common_mode"]) == 8

    def test_a_retired_one_is_out_of_service_and_nothing_is_due(self):
        service = with_test(choke_test(days_ago=900, **CORE), retired_on=TODAY, marks=(mark(),))
        assert service.state == "unserviceable" and service.due_on is None
        assert codes(service, "unserviceable") == ["retired"] and service.next_step.code == "none"


class TestInspections:
    def test_a_fault(self):
        service = sound(inspections=(inspected(moisture="fault"),))
        assert service.state == "unserviceable" and "moisture" in service.reasons[0].message
        assert service.next_step.code == "mend"

    def test_a_fault_answered_good_with_what_was_done(self):
        mended = inspection(5, said=("moisture",), moisture="ok")
        assert sound(inspections=(inspected(moisture="fault"), mended)).state == "serviceable"

    def test_a_fault_called_good_without_a_word_is_said(self):
        service = sound(inspections=(inspected(moisture="fault"), inspection(5, moisture="ok")))
        assert service.state == "unserviceable" and "without what was done" in service.reasons[0].message

    def test_to_be_watched(self):
        service = sound(inspections=(inspected(corrosion="watch"),))
        assert service.state == "watch" and service.next_step.code == "inspect"

    def test_what_does_not_apply_is_no_item_and_what_is_left_is_named(self):
        service = sound(inspections=(inspected(tracking="does_not_apply"),))
        (said,) = [each.message for each in service.reasons if each.code == "inspected"]
        assert service.state == "serviceable" and "10 of 10 items that apply" in said
        service = sound(inspections=(inspected(core="not_looked"),))
        assert service.state == "overdue" and service.due_on <= TODAY
        assert "core" in next(each.message for each in service.reasons if each.code == "not_all_looked_at")

    def test_a_fault_at_an_item_of_an_earlier_check_list_stands(self):
        service = sound(inspections=(inspected(dc="fault"),))
        assert service.state == "unserviceable" and "DC continuity" in service.reasons[0].message
        assert sound(readings("d1", 2), inspections=(inspected(dc="fault"),)).state == "serviceable"


class TestAtTheAntenna:
    def test_worse_in_its_place_is_no_proof_and_asks_for_the_bench(self):
        service = sound(of_kind("in_situ", "i", 3, "device_makes_it_worse"))
        assert service.state == "watch" and "worse_in_place" in codes(service)

    def test_a_later_bench_test_clears_it(self):
        service = sound(choke_test("t2", 2, **CORE), of_kind("in_situ", "i", 3, "device_makes_it_worse"))
        assert service.state == "serviceable"

    def test_no_other_finding_says_anything_of_the_device(self):
        for finding in ("device_changes_nothing", "better_through_device", "inconclusive"):
            assert sound(of_kind("in_situ", "i", 3, finding)).state == "serviceable", finding


class TestOrder:
    """Each of the five beats those after it."""

    def test_a_fault_beats_everything(self):
        service = judged(inspections=(inspected(900, terminals="fault"),), marks=(mark(),))
        assert service.state == "unserviceable"
        assert {"untested", "overdue"} <= {reason.weight for reason in service.reasons}

    def test_untested_beats_overdue(self):
        assert judged(marks=(mark(),)).state == "untested"

    def test_overdue_beats_watch(self):
        service = with_test(choke_test(days_ago=900, close=("40m",), **CORE))
        assert service.state == "overdue" and "too_close" in codes(service, "watch")

    def test_reasons_come_in_that_order(self):
        service = judged(
            choke_test(close=("40m",), b80m=12.0, b40m=21.0, days_ago=900),
            inspections=(inspection(5, terminals="fault"),),
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
            match(), choke_test(b40m=3.0), purpose="balun", principle="voltage", inspections=(inspected(),)
        )
        assert service.state == "serviceable" and "not_there_to_choke" in codes(service, "note")

    def test_a_choke_needs_the_common_mode_test(self):
        assert judged(loss(), match(), inspections=(inspected(),)).state == "untested"

    def test_another_kind_that_falls_short_counts_too(self):
        service = sound(loss(loss_db=0.9))
        assert service.state == "unserviceable" and "0.90 dB" in service.reasons[0].message


def test_the_newest_that_is_not_believed_is_said():
    service = sound(choke_test("t2", 1, why_not="Left out.", **CORE))
    assert (service.state, codes(service, "watch")) == ("watch", ["newer_not_believed"])


def test_no_reason_speaks_of_power_ratings():
    for service in (judged(), sound(), judged(choke_test(b40m=3.0))):
        text = " ".join(reason.message for reason in service.reasons) + service.next_step.message
        assert "watt" not in text.lower() and "rating" not in text.lower()
