"""Who works on an intake: one at a time, taken over when dead, stopped by nothing that is not its own."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import IntegrityError, OperationalError, transaction
from django.utils import timezone

from measurements.models import Device, Intake, Test
from measurements.selectors.intakes import intakes as intakes_selectors
from measurements.selectors.nights import nights as nights_selectors
from measurements.services.intakes import intakes as intakes_services
from measurements.services.intakes import leases, processing
from measurements.services.nights import nights as nights_services
from measurements.services.tests import tests
from tests import club, factories
from tests.intake_samples import HEAD, choke, one_file, reasons, states, taken_in
from tests.services.nights.test_nights import refused

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def by(reference_data):
    return club.operator()


@pytest.fixture
def night(by) -> str:
    return club.night(by, calibrated=True)


def test_an_operator_whose_role_was_taken_stores_nothing_more(by, night):
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"]
    key = intakes_services.begin_intake(
        by=by, night=night, files=[choke(1)], manifest="\n".join([HEAD, *lines])
    ).key
    factories.member("Osric", "member")
    intakes_services.work_on_intake(intake=key)
    steward = factories.member("Stew", "steward")
    assert states(steward, key) == ["refused"]
    assert not Test.objects.exists()


def test_a_worker_that_is_alive_keeps_its_intake_and_a_dead_one_loses_it(by, night):
    lines = [f"c{n}.s2p,G-{n},Gwenna,common_mode,,,,{factories.design(by)}" for n in (1, 2)]
    key = intakes_services.begin_intake(
        by=by, night=night, files=[choke(1), choke(2)], manifest="\n".join([HEAD, *lines])
    ).key
    held = leases.take_lease(key, "worker one")
    assert held is not None and leases.take_lease(key, "worker two") is None
    intakes_services.work_on_intake(intake=key)  # another one: does nothing
    assert states(by, key) == ["waiting", "waiting"]
    processing._process_unit(held, 1)
    assert intakes_services.resume_stale_intakes(here=True) == 0
    # the worker dies here: its lease runs out
    Intake.objects.update(alive_until=timezone.now() - timedelta(seconds=1))
    assert intakes_services.resume_stale_intakes(here=True) == 1
    assert states(by, key) == ["stored", "stored"]
    assert intakes_selectors.get_intake(by, key).state == "done"
    # and the first one, if it only slept, stores nothing more
    with pytest.raises(leases.LeaseLostError), transaction.atomic():
        leases.renew_lease(held)
    assert Test.objects.count() == 2


def test_a_worker_that_was_taken_over_rolls_its_unit_back(by, night):
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"]
    key = intakes_services.begin_intake(
        by=by, night=night, files=[choke(1)], manifest="\n".join([HEAD, *lines])
    ).key
    held = leases.take_lease(key, "slow worker")
    Intake.objects.update(worker="quick worker")
    with pytest.raises(leases.LeaseLostError):
        processing._process_unit(held, 1)
    assert not Test.objects.exists() and not Device.objects.exists()
    assert states(by, key) == ["waiting"]


def test_a_defect_in_one_unit_keeps_no_other_waiting(by, night, monkeypatch, caplog):
    design = factories.design(by)
    lines = [f"c{n}.s2p,G-{n},Gwenna,common_mode,,,,{design}" for n in (1, 2)]
    real = tests.store_test

    def keep(*, device, **rest):
        if device.tag == "G-1":
            raise ZeroDivisionError
        return real(device=device, **rest)

    monkeypatch.setattr(tests, "store_test", keep)
    key = taken_in(by, night, [choke(1), choke(2)], lines)
    assert states(by, key) == ["refused", "stored"]
    assert reasons(by, key)[0] == processing.FAILED
    assert "ZeroDivisionError" in caplog.text


def test_forgotten_intakes_are_taken_up(by, night):
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"]
    key = intakes_services.begin_intake(
        by=by, night=night, files=[choke(1)], manifest="\n".join([HEAD, *lines])
    ).key
    assert intakes_services.resume_stale_intakes(here=True) == 0  # its task may only just begin
    Intake.objects.update(made_at=timezone.now() - timedelta(minutes=5))
    assert intakes_services.resume_stale_intakes(here=True) == 1
    assert states(by, key) == ["stored"]
    assert not intakes_services.has_unfinished_intakes()


def test_the_task_begins_once_the_files_are_committed(by, night, django_capture_on_commit_callbacks):
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"]
    with django_capture_on_commit_callbacks(execute=True) as callbacks:
        key = intakes_services.begin_intake(
            by=by, night=night, files=[choke(1)], manifest="\n".join([HEAD, *lines])
        ).key
    assert len(callbacks) == 1
    assert states(by, key) == ["stored"]


def test_a_closed_night_finishes_what_it_took_in(by, night):
    lines = [f"c1.s2p,G-1,Gwenna,common_mode,,,,{factories.design(by)}"]
    key = intakes_services.begin_intake(
        by=by, night=night, files=[choke(1)], manifest="\n".join([HEAD, *lines])
    ).key
    nights_services.close_night(by=by, night=night, version=nights_selectors.get_night(by, night).version)
    refused(
        "night.closed", intakes_services.begin_intake, by=by, night=night, files=[choke(2)], manifest=None
    )
    intakes_services.work_on_intake(intake=key)
    assert states(by, key) == ["stored"]


def test_a_busy_database_is_waited_for(by, night, monkeypatch):
    monkeypatch.setattr(processing, "PAUSE_S", 0.0)
    real, calls = processing._store_unit, []

    def busy_twice(intake, files):
        calls.append(1)
        if len(calls) <= 2:
            raise OperationalError("database is locked")
        real(intake, files)

    monkeypatch.setattr(processing, "_store_unit", busy_twice)
    key = one_file(by, night)
    intakes_services.work_on_intake(intake=key)
    assert (states(by, key), len(calls)) == (["stored"], 3)


def test_a_database_that_stays_away_leaves_the_intake_to_be_resumed(by, night, monkeypatch):
    monkeypatch.setattr(processing, "PAUSE_S", 0.0)

    def never(_intake, _files):
        raise OperationalError("database is locked")

    with monkeypatch.context() as patched:
        patched.setattr(processing, "_store_unit", never)
        key = one_file(by, night)
        with pytest.raises(OperationalError):
            intakes_services.work_on_intake(intake=key)
    assert (
        intakes_selectors.get_intake(by, key).state == "queued"
    )  # given back at once: nobody waits for a lease
    intakes_services.work_on_intake(intake=key)
    assert states(by, key) == ["stored"]


def test_two_who_register_at_the_same_moment_are_no_fault(by, night, monkeypatch):
    real, calls = processing._store_unit, []

    def raced(intake, files):
        calls.append(1)
        if len(calls) == 1:
            raise IntegrityError("device_tag_once_per_contributor")
        real(intake, files)

    monkeypatch.setattr(processing, "_store_unit", raced)
    key = one_file(by, night)
    intakes_services.work_on_intake(intake=key)
    assert (states(by, key), len(calls)) == (["stored"], 2)
