"""Devices belong to one contributor, and two changes at once do not overwrite each other."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.utils import timezone

from measurements.disclosure.viewers import ANONYMOUS
from measurements.errors import BenchnightError
from measurements.models import AuditEntry, Device
from measurements.services.devices import devices
from tests import factories


def test_a_device_is_registered_under_its_tag(member):
    key = factories.device(member, tag="  C   7 ")
    device = Device.objects.get(key=key)
    assert (device.tag, device.contributor.member_id, device.version) == ("C 7", member.member_id, 1)
    assert AuditEntry.objects.filter(action="device.register", subject=key, actor="Ada").exists()


def test_a_tag_is_taken_once_per_contributor(member):
    factories.device(member, tag="C-1")
    with pytest.raises(BenchnightError) as caught:
        factories.device(member, tag="C-1")
    assert (caught.value.kind, caught.value.field) == ("conflict", "tag")
    factories.device(factories.member("Bo"), tag="C-1")


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"design": "nope"}, "design"),
        ({"tag": " "}, "tag"),
        ({"tag": "x" * 65}, "tag"),
        ({"tag": "a\x07"}, "tag"),
        ({"origin": "stolen"}, "origin"),
        ({"built_on": timezone.now().date() + timedelta(days=3)}, "built_on"),
        ({"built_on": date(1899, 1, 1)}, "built_on"),
        ({"notes": "x" * 4001}, "notes"),
        ({"notes": "\x00"}, "notes"),
    ],
)
def test_a_fault_names_its_field(member, fields, field):
    with pytest.raises(BenchnightError) as caught:
        devices.register_device(by=member, **{"design": factories.design(member), "tag": "C-1", **fields})
    assert [fault.field for fault in caught.value.errors] == [field]
    assert not Device.objects.exists()


def test_nobody_registers_without_signing_in(member):
    with pytest.raises(BenchnightError) as caught:
        devices.register_device(by=ANONYMOUS, design=factories.design(member), tag="C-1")
    assert caught.value.kind == "forbidden"


def test_a_stale_change_is_refused(member):
    key = factories.device(member)
    assert devices.update_device(by=member, device=key, version=1, notes="dry") == 2
    with pytest.raises(BenchnightError) as caught:
        devices.update_device(by=member, device=key, version=1, notes="wet")
    assert (caught.value.code, caught.value.kind) == ("device.stale", "conflict")
    assert Device.objects.get(key=key).notes == "dry"


def test_a_change_to_a_tag_in_use_is_a_conflict(member):
    factories.device(member, tag="C-1")
    key = factories.device(member, factories.design(member), tag="C-2")
    with pytest.raises(BenchnightError) as caught:
        devices.update_device(by=member, device=key, version=1, tag="C-1")
    assert caught.value.code == "device.tag_taken"


def test_another_members_device_is_not_there(member):
    key = factories.device(member)
    for viewer in (factories.member("Bo"), factories.member("Cy", "operator")):
        with pytest.raises(BenchnightError) as caught:
            devices.update_device(by=viewer, device=key, version=1, notes="mine")
        with pytest.raises(BenchnightError) as missing:
            devices.update_device(by=viewer, device="no-such-key", version=1, notes="mine")
        assert (caught.value.code, caught.value.detail) == (missing.value.code, missing.value.detail)
    assert devices.update_device(by=factories.member("Di", "steward"), device=key, version=1, notes="ok") == 2


def test_only_known_fields_change(member):
    with pytest.raises(BenchnightError) as caught:
        devices.update_device(by=member, device=factories.device(member), version=1, contributor="me")
    assert caught.value.field == "contributor"
