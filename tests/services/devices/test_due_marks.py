"""After a storm: many devices are marked at once, and a later test or inspection clears the mark."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.models import AuditEntry, Device
from measurements.services.devices import due_marks
from measurements.services.upkeep import inspections
from tests import factories

LOOK = {"terminals": {"state": "ok", "note": ""}}


@pytest.fixture
def steward(reference_data):
    return factories.member("Stella", "steward")


@pytest.fixture
def shelf(member):
    design = factories.design(member)
    return [factories.device(member, design, tag=f"C-{index}") for index in range(3)]


def since(key):
    return Device.objects.get(key=key).due_since


def today():
    return timezone.now().date()


def test_many_at_once(steward, shelf):
    assert (
        due_marks.mark_devices_due(
            by=steward, devices_marked=[*shelf[:2], shelf[0]], reason="  storm \n of May "
        )
        == 2
    )
    assert [since(key) for key in shelf] == [today(), today(), None]
    assert Device.objects.get(key=shelf[0]).due_reason == "storm of May"
    assert AuditEntry.objects.filter(action="device.mark_due", actor="Stella").count() == 2


def test_all_or_none(steward, shelf):
    with pytest.raises(BenchnightError):
        due_marks.mark_devices_due(by=steward, devices_marked=[shelf[0], "zzzzzzzzzzzz"], reason="storm")
    assert since(shelf[0]) is None and not AuditEntry.objects.filter(action="device.mark_due").exists()


@pytest.mark.parametrize(
    ("keys", "reason", "code"),
    [([], "storm", "due.nothing"), (["x"] * 1, "", "due.reason"), (["x"], "y" * 121, "due.reason")],
)
def test_what_is_wrong_is_said(steward, keys, reason, code):
    with pytest.raises(BenchnightError) as caught:
        due_marks.mark_devices_due(by=steward, devices_marked=keys, reason=reason)
    assert caught.value.code == code


def test_too_many(steward):
    with pytest.raises(BenchnightError) as caught:
        due_marks.mark_devices_due(by=steward, devices_marked=[f"{n}" for n in range(501)], reason="storm")
    assert caught.value.code == "due.too_many"


def test_members_mark_nothing(member, shelf):
    with pytest.raises(BenchnightError) as caught:
        due_marks.mark_devices_due(by=member, devices_marked=shelf, reason="storm")
    assert caught.value.code == "account.operators_only"


def test_an_operator_marks_only_what_is_his_to_see(member, shelf):
    with pytest.raises(BenchnightError) as caught:
        due_marks.mark_devices_due(
            by=factories.member("Olga", "operator"), devices_marked=shelf, reason="storm"
        )
    assert caught.value.code == "device.not_found"


class TestClearing:
    @pytest.fixture
    def marked(self, steward, shelf):
        due_marks.mark_devices_due(by=steward, devices_marked=shelf, reason="storm")
        return shelf[0]

    def test_by_a_later_inspection(self, member, marked):
        inspections.record_inspection(by=member, device=marked, inspected_on=today(), findings=LOOK)
        assert since(marked) is None and Device.objects.get(key=marked).due_reason == ""

    def test_not_by_an_earlier_one(self, member, marked):
        before = today() - timedelta(days=1)
        inspections.record_inspection(by=member, device=marked, inspected_on=before, findings=LOOK)
        assert since(marked) == today()

    def test_by_a_later_test(self, member, marked):
        factories.record(member, marked, factories.choke_s2p(seed=3, points=51), measured_on=today())
        assert since(marked) is None

    def test_not_by_an_earlier_test(self, member, marked):
        factories.record(member, marked, factories.choke_s2p(seed=3, points=51))
        assert since(marked) == today()

    def test_not_by_a_test_that_does_not_count(self, member, marked):
        sweep = factories.choke_s2p(seed=3, points=51)
        factories.record(member, marked, sweep, measured_on=today(), calibrated="false")
        assert since(marked) == today()

    def test_by_hand(self, steward, member, marked):
        with pytest.raises(BenchnightError):
            due_marks.clear_due_marks(by=member, devices_marked=[marked])
        due_marks.clear_due_marks(by=steward, devices_marked=[marked])
        assert since(marked) is None
