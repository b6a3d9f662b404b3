"""Service states out of what is stored; who sees which tests in them; the group's numbers."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.models import GroupSetting
from measurements.selectors.upkeep import due_devices, kept_states, service_states
from measurements.selectors.upkeep.device_filters import DueFilter
from measurements.services.devices import devices, due_marks
from measurements.services.releases import releases
from measurements.services.upkeep import inspections, state_keeping
from tests import factories

TODAY = timezone.now().date()
POINTS = 101


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


def sweep(by, device, peak_ohm: float, days: int, seed: int, **more):
    data = factories.choke_s2p(peak_ohm, seed=seed, points=POINTS)
    return factories.record(by, device, data, measured_on=ago(days), **more)


@pytest.fixture
def device(member):
    return factories.device(member)


def make_sound(by, device, days: int = 5):
    """What a choke needs beside its common-mode test: its way through, and every item."""
    factories.readings(by, device, measured_on=ago(days))
    factories.look(by, device, ago(days))


def codes(row, weight=None):
    return [each.code for each in row.reasons if weight in (None, each.weight)]


def test_untested_until_there_is_a_test(member, device):
    row = service_states.get_service_state(member, device)
    assert (row.state, row.next_step.kind, row.newest_test) == ("untested", "common_mode", None)
    assert row.limits.benchmark_db == 20.0 and row.limits.test_interval_days == 365


def test_tested_and_falling_short_where_it_never_met(member, device):
    """The sample chokes above 20 dB from 3.5 MHz on, 22.9 dB on 10 m, and not on 160 m."""
    key = sweep(member, device, 3000, 5, seed=1)
    make_sound(member, device)
    row = service_states.get_service_state(member, device)
    assert row.newest_test == key and row.baseline.test == key and not row.baseline.chosen
    assert row.state == "serviceable" and codes(row, "note")[0] == "not_for_band"
    rests = {each.band for each in row.rests_on if each.kind == "common_mode"}
    assert {"80m", "40m", "10m"} <= rests and "160m" not in rests
    assert any("160m: beyond the limit" in gap for gap in row.not_covered)
    assert {each.state for each in row.items} == {"ok"} and row.items[0].answered_on == ago(5)


def test_a_sweep_of_one_band_says_so(member, device):
    """A curve that was swept on 40 m alone."""
    lines = factories.choke_s2p(seed=4, points=401).decode().splitlines()
    kept = [line for line in lines[2:] if 6.9e6 <= float(line.split()[0]) <= 7.4e6]
    key = factories.record(member, device, "\n".join([*lines[:2], *kept, ""]).encode(), measured_on=ago(5))
    make_sound(member, device)
    row = service_states.get_service_state(member, device)
    assert (row.state, codes(row, "untested")) == ("untested", ["bands_untested"])
    devices.update_device(by=member, device=device, version=1, baseline=key)
    row = service_states.get_service_state(member, device)
    assert row.state == "serviceable"
    assert [each.band for each in row.rests_on if each.kind == "common_mode"] == ["40m"]


def test_a_recipe_in_doubt_makes_nothing_serviceable(member, device):
    factories.record(member, device, measured_on=ago(5), recipe_confirmed="")
    make_sound(member, device)
    row = service_states.get_service_state(member, device)
    assert row.state == "untested" and "contradicts the recipe" in row.reasons[0].message


def test_readings_made_again_on_another_day_are_another_test(member, device):
    sweep(member, device, 3000, 5, seed=1)
    make_sound(member, device, days=380)
    factories.look(member, device, ago(3))
    assert "through_path_overdue" in codes(service_states.get_service_state(member, device))
    factories.readings(member, device, measured_on=ago(3))
    assert service_states.get_service_state(member, device).state == "serviceable"


def test_a_leaking_device_is_unserviceable(member, device):
    first = sweep(member, device, 3000, 200, seed=1)
    devices.update_device(by=member, device=device, version=1, baseline=first)
    sweep(member, device, 700, 5, seed=2)
    row = service_states.get_service_state(member, device)
    assert row.state == "unserviceable"
    assert all(each.change_db < -3 for each in row.change if each.band in ("40m", "30m"))


def test_a_lenient_upload_does_not_make_it_serviceable(member, device):
    """Its uploader asked for 5 dB; the group's benchmark is 20 dB."""
    sweep(member, device, 700, 5, seed=2, benchmark_db="5")
    assert service_states.get_service_state(member, device).state == "unserviceable"


def test_an_uncalibrated_test_says_nothing(member, device):
    sweep(member, device, 3000, 5, seed=1, calibrated="false")
    row = service_states.get_service_state(member, device)
    assert row.state == "untested" and "uncalibrated" in row.reasons[0].message


def test_the_groups_intervals_count(member, device):
    key = sweep(member, device, 3000, 40, seed=1)
    make_sound(member, device)
    devices.update_device(by=member, device=device, version=1, baseline=key)
    GroupSetting.objects.create(name="service_test_interval_days", value=30)
    row = service_states.get_service_state(member, device)
    assert row.state == "overdue" and "every 30 days" in row.reasons[0].message
    assert row.limits.test_interval_days == 30


def test_marks_and_inspections(member, device):
    sweep(member, device, 3000, 5, seed=1)
    make_sound(member, device)
    due_marks.mark_devices_due(
        by=factories.member("Stella", "steward"), devices_marked=[device], reason="storm"
    )
    assert service_states.get_service_state(member, device).state == "overdue"
    inspections.record_inspection(
        by=member,
        device=device,
        inspected_on=TODAY,
        findings={"winding": {"state": "fault", "note": "burnt"}},
    )
    row = service_states.get_service_state(member, device)
    assert row.state == "unserviceable" and "winding" in row.reasons[0].message
    assert "burnt" not in row.reasons[0].message


class TestBaseline:
    def test_has_to_be_a_test_of_this_device(self, member, device):
        other = factories.device(member, tag="C-2")
        key = sweep(member, other, 3000, 5, seed=1)
        with pytest.raises(BenchnightError) as caught:
            devices.update_device(by=member, device=device, version=1, baseline=key)
        assert caught.value.code == "device.baseline"

    def test_has_to_count(self, member, device):
        key = sweep(member, device, 3000, 5, seed=1, calibrated="false")
        with pytest.raises(BenchnightError) as caught:
            devices.update_device(by=member, device=device, version=1, baseline=key)
        assert caught.value.code == "device.baseline"

    def test_can_be_taken_back(self, member, device):
        key = sweep(member, device, 3000, 5, seed=1)
        devices.update_device(by=member, device=device, version=1, baseline=key)
        devices.update_device(by=member, device=device, version=2, baseline=None)
        assert not service_states.get_service_state(member, device).baseline.chosen


class TestYardstick:
    def test_too_few_repeats_are_said(self, member, device):
        sweep(member, device, 3000, 5, seed=1)
        sweep(member, device, 3010, 5, seed=2)
        row = service_states.get_service_state(member, device).repeatability
        assert (row.whose, row.dof, row.needed_dof) == ("none", 1, 5) and row.real_from_db == {}

    def test_own_repeats(self, member, device):
        """Six sweeps in two days, 1 % apart in peak: numpy's own standard deviation of them, per band."""
        import numpy as np

        for index in range(6):
            sweep(member, device, 3000 + 30 * index, 5 + index % 2, seed=index)
        row = service_states.get_service_state(member, device).repeatability
        assert (row.whose, row.dof) == ("own", 5)
        from measurements.models import Result

        figures = [
            next(band["rejection_db"]["worst"] for band in each["bands"] if band["band"] == "40m")
            for each in Result.objects.values_list("figures", flat=True)
        ]
        assert row.sd_db["40m"] == pytest.approx(np.std(figures, ddof=1), abs=0.001)
        # t(0.975, 5) = 2.571 (any table of Student's t), times the square root of two
        assert row.real_from_db["40m"] == pytest.approx(2.571 * 2**0.5 * row.sd_db["40m"], abs=0.01)

    def repeat(self, person: int):
        by = factories.member(f"p-{person}")
        made = factories.device(by, factories.design(by), tag="R")
        for index in range(3):
            sweep(by, made, 3000 + 200 * index, 5, seed=100 * person + index)

    def test_the_groups_are_coarse_and_need_enough_people(self, member, device):
        self.repeat(1)
        self.repeat(2)
        sweep(member, device, 3000, 5, seed=1)
        assert service_states.get_service_state(member, device).repeatability.whose == "none"
        self.repeat(3)
        assert service_states.get_service_state(member, device).repeatability.whose == "none"  # no live query
        releases.make_release(files=False)
        row = service_states.get_service_state(member, device).repeatability
        assert row.whose == "group"
        assert all(value * 2 == int(value * 2) for value in row.sd_db.values())
        assert row.dof == row.needed_dof  # how many repeats there are is not told

    def test_own_uploads_do_not_slide_the_groups_figure_over_its_rounding_edge(self, member, device):
        """A member moved the live figure by own repeats until it jumped, and so read the others' exactly."""
        for person in (1, 2, 3):
            self.repeat(person)
        sweep(member, device, 3000, 5, seed=1)
        releases.make_release(files=False)
        before = service_states.get_service_state(member, device).repeatability
        attacker = factories.member("attacker")
        made = factories.device(attacker, factories.design(attacker), tag="A")
        for index in range(6):
            sweep(attacker, made, 1000 + 4000 * (index % 2), 5, seed=900 + index)
            if index % 2:
                releases.make_release(files=False)
            assert service_states.get_service_state(member, device).repeatability == before
        for person in (4, 5):
            self.repeat(person)
        releases.make_release(files=False)
        after = service_states.get_service_state(member, device).repeatability
        assert after.sd_db["40m"] > before.sd_db["40m"]  # three joined: the attacker is one of them

    def test_many_repeats_of_one_person_are_still_one_person(self, member, device):
        by = factories.member("busy")
        for tag in ("A", "B", "C", "D"):
            made = factories.device(by, factories.design(by), tag=tag)
            for index in range(3):
                sweep(by, made, 3000 + 100 * index, 5, seed=ord(tag) * 10 + index)
        sweep(member, device, 3000, 5, seed=1)
        releases.make_release(files=False)
        assert service_states.get_service_state(member, device).repeatability.whose == "none"

    def test_tests_far_apart_are_no_repeats(self, member, device):
        for index in range(6):
            sweep(member, device, 3000, 10 * index + 1, seed=index)
        row = service_states.get_service_state(member, device).repeatability
        assert (row.whose, row.dof) == ("none", 0)


class TestWhoSees:
    def test_strangers_and_operators_without_the_night_find_nothing(self, member, device):
        for by in (factories.member("Nils"), factories.member("Olga", "operator")):
            with pytest.raises(BenchnightError) as caught:
                service_states.get_service_state(by, device)
            assert caught.value.code == "device.not_found"

    def test_a_steward_sees_the_same_as_the_owner(self, member, device):
        sweep(member, device, 3000, 5, seed=1)
        steward = factories.member("Stella", "steward")
        assert service_states.get_service_state(steward, device) == service_states.get_service_state(
            member, device
        )

    def test_an_operator_reads_no_state_of_a_device_on_the_bench(self, member, device):
        """A state rests on what its owner measured at home."""
        from measurements.models import Device, Night, NightDevice
        from measurements.services.nights import nights

        sweep(member, device, 700, 5, seed=2)
        operator = factories.member("Olga", "operator")
        night = nights.open_night(by=operator, held_on=TODAY).key
        NightDevice.objects.create(night=Night.objects.get(key=night), device=Device.objects.get(key=device))
        with pytest.raises(BenchnightError) as caught:
            service_states.get_service_state(operator, device)
        assert caught.value.code == "device.not_found"


class TestListing:
    @pytest.fixture
    def shelf(self, member):
        design = factories.design(member)
        made = {tag: factories.device(member, design, tag=tag) for tag in ("good", "bad", "new", "old")}
        for tag, peak, days in (("good", 3000, 5), ("bad", 500, 5), ("old", 3000, 500)):
            key = sweep(member, made[tag], peak, days, seed=len(tag) + days)
            make_sound(member, made[tag], days)
            devices.update_device(by=member, device=made[tag], version=1, baseline=key)
        devices.update_device(by=member, device=made["new"], version=1, place="mast two")
        state_keeping.keep_waiting_states(kept_states.judge_waiting_devices)
        return made

    def test_the_most_urgent_first(self, member, shelf):
        found = due_devices.list_devices_by_urgency(member, DueFilter())
        assert [(row.tag, row.state) for row in found.rows] == [
            ("bad", "unserviceable"),
            ("new", "untested"),
            ("old", "overdue"),
            ("good", "serviceable"),
        ]
        assert found.total == 4 and found.counts["overdue"] == 1 and not found.waiting

    @pytest.mark.parametrize(
        ("wanted", "tags"),
        [
            (DueFilter(state="due"), ["bad", "new", "old"]),
            (DueFilter(state="serviceable"), ["good"]),
            (DueFilter(text="MAST"), ["new"]),
            (DueFilter(text="oo"), ["good"]),
            (DueFilter(text="nowhere"), []),
        ],
    )
    def test_filters(self, member, shelf, wanted, tags):
        assert [row.tag for row in due_devices.list_devices_by_urgency(member, wanted).rows] == tags

    def test_retired_ones_only_when_asked_for(self, member, shelf):
        devices.update_device(by=member, device=shelf["bad"], version=2, retired_on=TODAY)
        state_keeping.keep_waiting_states(kept_states.judge_waiting_devices)
        assert "bad" not in [row.tag for row in due_devices.list_devices_by_urgency(member, DueFilter()).rows]
        assert due_devices.list_devices_by_urgency(member, DueFilter(retired=True)).rows[-1].tag == "bad"

    def test_others_devices_are_not_in_it(self, shelf):
        assert due_devices.list_devices_by_urgency(factories.member("Nils"), DueFilter()).rows == ()
        assert (
            due_devices.list_devices_by_urgency(factories.member("Olga", "operator"), DueFilter()).rows == ()
        )
        steward = factories.member("Stella", "steward")
        assert len(due_devices.list_devices_by_urgency(steward, DueFilter()).rows) == 4
        assert due_devices.list_devices_by_urgency(steward, DueFilter(mine=True)).rows == ()

    def test_a_device_that_waits_is_counted_and_says_nothing(self, member, shelf):
        due_marks.mark_devices_due(
            by=factories.member("Stella", "steward"), devices_marked=[shelf["good"]], event="storm"
        )
        found = due_devices.list_devices_by_urgency(member, DueFilter())
        assert [row.tag for row in found.rows if row.state == "waiting"] == ["good"]
        assert (found.total, found.waiting, found.counts["serviceable"]) == (4, 1, 0)
        assert due_devices.list_devices_by_urgency(member, DueFilter(state="serviceable")).rows == ()
        assert {row.state for row in due_devices.iterate_devices(member, DueFilter(text="good"))} == {
            "overdue"
        }

    def test_as_many_queries_for_two_as_for_many(self, member, shelf, django_assert_num_queries):
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        with CaptureQueriesContext(
            connection,
        ) as all_of_them:
            due_devices.list_devices_by_urgency(member, DueFilter())
        with CaptureQueriesContext(connection) as one:
            due_devices.list_devices_by_urgency(member, DueFilter(text="good"))
        assert len(one) == len(all_of_them)
