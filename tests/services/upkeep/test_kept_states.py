"""States that are kept equal states that are judged, after whatever happened, and never pass for newer ones.

The yardstick is the device's own page, which judges from everything that is stored (`state_histories`).
"""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import transaction
from django.utils import timezone

from measurements.models import Device, DeviceState, StateChange, Test
from measurements.selectors.upkeep import kept_states, service_states
from measurements.services.devices import due_marks
from measurements.services.reference import benchmarks, group_settings
from measurements.services.upkeep import state_keeping
from tests import factories
from tests.services.upkeep.state_histories import (
    History,
    find_wrong,
    judge_now,
    keep_all,
    list_waiting,
    read_kept,
)

TODAY = timezone.localdate()
STEPS = 25


@pytest.mark.parametrize("seed", range(5))
def test_whatever_happens_a_kept_state_is_the_judged_one(reference_data, monkeypatch, seed):
    """After each step no state that claims to hold is wrong; once kept, every device has the judged one."""
    history = History(seed, TODAY)
    monkeypatch.setattr(service_states, "get_today", lambda: history.now)
    keep_all()
    done = []
    for _ in range(STEPS):
        done.append(history.step())
        assert find_wrong(history.steward) == {}, done
        if history.random.random() < 0.6:
            keep_all()
            assert list_waiting() == set(), done
            assert find_wrong(history.steward) == {}, done
            assert DeviceState.objects.count() == Device.objects.count()
    assert len({name for name in done if "refused" not in name}) > 8, done


@pytest.fixture
def steward(reference_data):
    return factories.member("Stella", "steward")


@pytest.fixture
def sound(steward):
    """A device that is serviceable today, judged and kept."""
    key = factories.device(steward)
    factories.record(steward, key, factories.choke_s2p(points=101), measured_on=TODAY)
    factories.readings(steward, key, measured_on=TODAY)
    factories.look(steward, key, TODAY)
    keep_all()
    device = Device.objects.get(key=key)
    assert device.kept_state.state == "serviceable" and list_waiting() == set()
    return device


def test_a_state_changes_by_itself_when_its_day_comes(steward, sound, monkeypatch):
    """A test of today is due in 365 days (house default) and overdue on the day after."""
    assert sound.kept_state.next_change_on == TODAY + timedelta(days=366)
    monkeypatch.setattr(service_states, "get_today", lambda: TODAY + timedelta(days=365))
    assert list_waiting() == set() and find_wrong(steward) == {}
    monkeypatch.setattr(service_states, "get_today", lambda: TODAY + timedelta(days=366))
    assert list_waiting() == {sound.pk}
    assert keep_all() == 1
    assert DeviceState.objects.get(device=sound).state == "overdue"


def test_a_clock_that_was_set_back_is_noticed(sound, monkeypatch):
    monkeypatch.setattr(service_states, "get_today", lambda: TODAY - timedelta(days=1))
    assert list_waiting() == {sound.pk}


def test_a_change_that_is_rolled_back_leaves_the_state(steward, sound):
    with pytest.raises(RuntimeError), transaction.atomic():
        due_marks.mark_devices_due(by=steward, devices_marked=[sound.key], event="storm")
        assert list_waiting() == {sound.pk}
        raise RuntimeError("the server dies before it commits")
    assert list_waiting() == set() and find_wrong(steward) == {}


def test_a_server_that_dies_after_a_change_leaves_no_stale_serviceable(steward, sound):
    """Nothing is judged after the change; the state waits until somebody judges."""
    due_marks.mark_devices_due(by=steward, devices_marked=[sound.key], event="storm")
    assert DeviceState.objects.get(device=sound).state == "serviceable"  # as it was left
    assert list_waiting() == {sound.pk}


def test_a_server_that_dies_while_it_keeps_leaves_the_note(steward, sound, monkeypatch):
    due_marks.mark_devices_due(by=steward, devices_marked=[sound.key], event="storm")

    def die(*_args, **_more):
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(state_keeping, "_cut", die)
    with pytest.raises(RuntimeError), transaction.atomic():
        keep_all()
    monkeypatch.undo()
    assert list_waiting() == {sound.pk}
    keep_all()
    assert read_kept(DeviceState.objects.get(device=sound)) == judge_now(steward)[sound.pk]


def test_a_change_between_judging_and_keeping_stays_noted(steward, sound):
    """Somebody marks the device after its facts were read: what was judged then must not hold."""
    group_settings.change_group_setting(by=steward, name="service_drift_db", value=1.0)

    def judge():
        judged = kept_states.judge_waiting_devices()
        if judged.states and not sound.due_marks.exists():
            due_marks.mark_devices_due(by=steward, devices_marked=[sound.key], event="storm")
        return judged

    state_keeping.keep_waiting_states(judge, most_steps=1)
    assert DeviceState.objects.get(device=sound).state == "serviceable" and list_waiting() == {sound.pk}
    keep_all()
    assert DeviceState.objects.get(device=sound).state == "overdue" and list_waiting() == set()


def test_other_limits_make_every_state_wait(steward, sound):
    benchmarks.change_benchmark(
        by=steward, kind="common_mode", metric="rejection_db", value=40.0, as_of=TODAY, source="own"
    )
    assert list_waiting() == {sound.pk}
    keep_all()
    assert DeviceState.objects.get(device=sound).state == "unserviceable"


def test_newer_rules_make_every_state_wait(sound, monkeypatch):
    monkeypatch.setattr(kept_states, "_hash_rules", lambda: "rules of another version")
    assert list_waiting() == {sound.pk}


def test_writes_past_the_services_are_noted_too(steward, sound):
    """The note is made by the database: no service can forget it."""
    Test.objects.filter(device=sound, kind="common_mode").update(excluded_reason="by hand")
    assert list_waiting() == {sound.pk}
    keep_all()
    assert DeviceState.objects.get(device=sound).state == "untested"


def test_a_deleted_device_leaves_neither_state_nor_note(steward, sound):
    Device.objects.filter(pk=sound.pk).delete()
    keep_all()
    assert not DeviceState.objects.exists() and not StateChange.objects.exists()


def test_judging_many_takes_as_many_queries_as_judging_few(steward, django_assert_num_queries):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    def count(devices: int) -> int:
        for number in range(devices):
            factories.device(steward, tag=f"N-{devices}-{number}")
        with CaptureQueriesContext(connection) as captured:
            assert (
                state_keeping.keep_waiting_states(kept_states.judge_waiting_devices, most_steps=2) == devices
            )
        return len(captured)

    count(1)
    assert count(2) == count(20)


def _sweep(by, device, peak_ohm, days, seed):
    data = factories.choke_s2p(peak_ohm, seed=seed, points=61)
    return factories.record(by, device, data, measured_on=TODAY - timedelta(days=days))


def test_repeats_of_one_device_make_the_other_devices_of_its_owner_wait(steward):
    """One device lost some 4 dB; its owner's repeats of another device differ by as much and explain it."""
    drifted, repeated = (factories.device(steward, tag=tag) for tag in ("drifted", "repeated"))
    _sweep(steward, drifted, 5000, 100, 1)
    _sweep(steward, drifted, 3000, 5, 2)
    keep_all()
    row = DeviceState.objects.get(device__key=drifted)
    assert row.asks_repeats and "drifted" in row.codes
    _sweep(steward, repeated, 3000, 30, 3)
    assert row.device_id in list_waiting()
    keep_all()  # one test repeats nothing: the state holds and is not judged again
    assert list_waiting() == set() and find_wrong(steward) == {}
    for seed, peak in enumerate((1300, 2000, 3000, 4500, 6500, 2000, 5000)):
        _sweep(steward, repeated, peak, 10, 10 + seed)
    assert row.device_id in list_waiting()
    keep_all()
    row.refresh_from_db()
    assert "drifted" not in row.codes and find_wrong(steward) == {}
