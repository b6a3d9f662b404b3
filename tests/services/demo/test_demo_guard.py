"""What the demo's load does to a database that is not its own, and when it is cut short."""

from __future__ import annotations

import pytest
from django.core.management import CommandError, call_command

from measurements.errors import BenchnightError
from measurements.models import Core, Device, Member
from measurements.services.accounts import accounts
from measurements.services.demo import demo

pytestmark = pytest.mark.django_db


def test_a_device_comes_with_all_of_its_tests_or_not_at_all(monkeypatch):
    recorded = []

    def record(**given):
        if len(recorded) == 2:
            raise OSError("the machine stops")
        recorded.append(given)
        return real(**given)

    real = demo.tests.record_test
    monkeypatch.setattr(demo.tests, "record_test", record)
    with pytest.raises(OSError, match="stops"):
        demo.load_demo()
    assert not Device.objects.exists()


def test_invented_devices_are_never_filed_under_somebody_else():
    accounts.ensure_member(name="Oriel")
    with pytest.raises(BenchnightError) as refused:
        demo.load_demo()
    assert (refused.value.code, refused.value.kind) == ("demo.name_taken", "conflict")
    with pytest.raises(CommandError, match="database of its own"):
        call_command("load_demo")
    assert Member.objects.count() == 1
    assert not Device.objects.exists()


def test_a_group_of_its_own_is_left_alone(no_reference_data):
    accounts.ensure_member(name="Keeper of the bench", role="steward")
    small = demo.Scenario(
        group=demo.SCENARIO.group,
        people=demo.SCENARIO.people,
        benches=demo.SCENARIO.benches,
        designs=demo.SCENARIO.designs,
        devices=demo.SCENARIO.devices[:2],
    )
    assert not Core.objects.exists()
    assert demo.load_demo(small).devices == 2
    assert Core.objects.exists(), "reference data comes along when there is none"
    assert Member.objects.get(name="Keeper of the bench").role == "steward"
    assert not Device.objects.filter(contributor__member__name="Keeper of the bench").exists()
