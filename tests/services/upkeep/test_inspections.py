"""Inspections: stored once, checked field by field, by those who may."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.models import AuditEntry, Inspection
from measurements.selectors.upkeep import inspections as inspections_selectors
from measurements.services.upkeep import inspections as inspections_services
from tests import factories

DAY = date(2026, 5, 2)
FINDINGS = {"terminals": {"state": "ok", "note": ""}, "moisture": {"state": "watch", "note": "a few drops"}}


@pytest.fixture
def device(member):
    return factories.device(member)


def record(member, device, **changes):
    given = {"inspected_on": DAY, "findings": FINDINGS, "dc_ohm": 0.12, "notes": "dry day", **changes}
    return inspections_services.record_inspection(by=member, device=device, **given)


def test_stored_and_shown_in_the_order_of_the_list(member, device):
    stored = record(member, device, findings=dict(reversed(FINDINGS.items())))
    row = inspections_selectors.get_inspection(member, stored.key)
    assert stored.created and [(each.item, each.state) for each in row.findings] == [
        ("terminals", "ok"),
        ("moisture", "watch"),
    ]
    assert (row.dc_ohm, row.notes, row.worst, row.recorded_by) == (0.12, "dry day", "watch", member.name)
    assert AuditEntry.objects.filter(action="inspection.record", subject=stored.key).count() == 1


def test_sent_twice_it_is_one(member, device):
    first, again = record(member, device), record(member, device)
    assert (again.key, again.created) == (first.key, False)
    assert Inspection.objects.count() == 1


def test_what_was_not_looked_at_is_not_kept(member, device):
    given = {**FINDINGS, "locking": {"state": "not_looked", "note": ""}}
    assert record(member, device, findings=given).key == record(member, device).key


def test_the_same_answers_on_another_day_are_another_inspection(member, device):
    record(member, device)
    assert record(member, device, inspected_on=DAY + timedelta(days=1)).created


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"inspected_on": timezone.now().date() + timedelta(days=3)}, "inspected_on"),
        ({"inspected_on": date(1900, 1, 1)}, "inspected_on"),
        ({"dc_ohm": -1.0}, "dc_ohm"),
        ({"dc_ohm": float("nan")}, "dc_ohm"),
        ({"notes": "x" * 4001}, "notes"),
        ({"findings": {"paint": {"state": "ok", "note": ""}}}, "findings.paint"),
        ({"findings": {"terminals": {"state": "fine", "note": ""}}}, "findings.terminals"),
        ({"findings": {"terminals": {"state": "ok", "note": "x" * 301}}}, "findings.terminals"),
        ({"findings": {"terminals": {"state": "ok", "note": "a\x00b"}}}, "findings.terminals"),
        ({"findings": {"terminals": {"state": "not_looked", "note": "hm"}}}, "findings.terminals"),
        ({"findings": {}, "dc_ohm": None}, "findings"),
    ],
)
def test_a_fault_is_named(member, device, changes, field):
    with pytest.raises(BenchnightError) as caught:
        record(member, device, **changes)
    assert [error.field for error in caught.value.errors] == [field]
    assert not Inspection.objects.exists()


def test_several_faults_at_once(member, device):
    with pytest.raises(BenchnightError) as caught:
        record(member, device, dc_ohm=-1.0, notes="x" * 4001)
    assert {error.field for error in caught.value.errors} == {"dc_ohm", "notes"}


def test_strangers_find_no_device(member, device):
    with pytest.raises(BenchnightError) as caught:
        record(factories.member("Nils"), device)
    assert caught.value.code == "device.not_found"


def test_withdrawing(member, device):
    key = record(member, device).key
    with pytest.raises(BenchnightError) as caught:
        inspections_services.withdraw_inspection(by=factories.member("Nils"), inspection=key)
    assert caught.value.code == "inspection.not_found"
    assert inspections_services.withdraw_inspection(by=member, inspection=key) == device
    with pytest.raises(BenchnightError):
        inspections_selectors.get_inspection(member, key)


def test_others_see_none(member, device):
    key = record(member, device).key
    for read in (
        lambda by: inspections_selectors.get_inspection(by, key),
        lambda by: inspections_selectors.list_inspections(by, device),
    ):
        with pytest.raises(BenchnightError) as caught:
            read(factories.member("Nils"))
        assert caught.value.kind == "not_found"
