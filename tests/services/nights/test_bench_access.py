"""An operator tests what lies on the bench: the label or the owner's yes opens it, and nothing else does."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.utils import timezone

from measurements.models import AuditEntry, BenchRequest, Device, DevicePhoto, NightDevice
from measurements.selectors.devices import accesses
from measurements.selectors.devices import devices as devices_selectors
from measurements.selectors.nights import nights as nights_selectors
from measurements.selectors.tests import tests as tests_selectors
from measurements.selectors.upkeep import (
    due_devices,
    fault_searches,
    inspections,
    listed_devices,
    photos,
    service_states,
)
from measurements.services.devices import attendance, devices, due_marks
from measurements.services.intakes import intakes
from measurements.services.nights import nights
from measurements.services.upkeep import inspections as inspections_services
from measurements.services.upkeep import photos as photos_services
from measurements.services.uploads.uploads import Upload
from tests import club, factories
from tests.services.nights.test_nights import refused

pytestmark = pytest.mark.usefixtures("reference_data")
SECRETS = {"notes": "wound by the late uncle", "place": "the hut on the moor"}


@pytest.fixture
def by(reference_data):
    return club.operator()


@pytest.fixture
def ada():
    return factories.member("Ada")


@pytest.fixture
def night(by) -> str:
    return club.night(by, calibrated=True)


@pytest.fixture
def device(ada) -> str:
    return devices.register_device(by=ada, design=factories.design(ada), tag="A-1", **SECRETS).key


def listed(by, night) -> set[str]:
    return {row.key for row in nights_selectors.list_night_devices(by, night)}


def test_a_name_and_a_guessed_tag_open_nothing(by, ada, night, device):
    person = club.guest(by, night, "Ada")
    made = club.guests_device(by, night, person, tag="A-1")
    assert listed(by, night) == {made}
    refused("device.not_found", devices_selectors.get_device_on_bench, viewer=by, key=device)


def test_the_label_opens_its_design_and_this_nights_tests_alone(by, ada, night, device):
    before = factories.record(ada, device, factories.choke_s2p(seed=5))
    address = f"https://bench.example/bench/{device}/"
    assert attendance.open_device_by_label(by=by, night=night, label=address).key == device
    assert not attendance.open_device_by_label(by=by, night=night, label=device).created
    shown = devices_selectors.get_device_on_bench(by, device)
    assert (shown.tag, shown.tests, shown.notes, shown.place, shown.owner) == ("A-1", 0, "", "", "")
    assert shown.design == Device.objects.get(key=device).design.key
    made = club.record(by, device, night, factories.choke_s2p(seed=6)).key
    assert [row.key for row in tests_selectors.list_tests(by, device=device).results] == [made]
    refused("test.not_found", tests_selectors.get_test, viewer=by, key=before)
    assert listed_devices.list_devices(by).results == ()


@pytest.mark.parametrize("how", ["label", "owner"])
def test_nothing_of_it_is_read_altered_retired_or_deleted(by, ada, night, device, how):
    photo = photos_services.add_photo(by=ada, device=device, data=picture()).key
    findings = {"corrosion": {"state": "ok"}}
    looked = inspections_services.record_inspection(
        by=ada, device=device, inspected_on=date(2026, 3, 1), findings=findings, notes="dry"
    ).key
    if how == "label":
        attendance.open_device_by_label(by=by, night=night, label=device)
    else:
        attendance.request_device(by=by, night=night, name="Ada", tag="A-1")
        attendance.answer_request(by=ada, request=BenchRequest.objects.get().key, yes=True)
    made = club.record(by, device, night).key
    for read in (
        devices_selectors.get_device,
        photos.get_photo,
        service_states.get_service_state,
        service_states.get_device_trend,
    ):
        of_photo = read is photos.get_photo
        code = "photo.not_found" if of_photo else "device.not_found"
        refused(code, read, viewer=by, key=photo if of_photo else device)
    for read in (photos.list_photos, inspections.list_inspections, fault_searches.list_fault_searches):
        refused("device.not_found", read, viewer=by, device=device)
    refused("inspection.not_found", inspections.get_inspection, viewer=by, key=looked)
    refused("device.not_found", accesses.list_accesses, viewer=by, device=device)
    assert due_devices.list_devices_by_urgency(by, due_devices.DueFilter()).rows == ()
    for change in ({"tag": "B-9"}, {"retired_on": date(2026, 5, 14)}, {"notes": "x"}, {"design": "x"}):
        refused("device.not_found", devices.update_device, by=by, device=device, version=1, **change)
    refused("device.not_found", photos_services.add_photo, by=by, device=device, data=picture())
    refused("photo.not_found", photos_services.delete_photo, by=by, photo=photo)
    refused("inspection.not_found", inspections_services.withdraw_inspection, by=by, inspection=looked)
    refused("device.not_found", due_marks.mark_devices_due, by=by, devices_marked=[device], reason="storm")
    refused("device.not_found", attendance.end_access, by=by, device=device)
    assert (Device.objects.get(key=device).tag, DevicePhoto.objects.count()) == ("A-1", 1)
    assert tests_selectors.get_test(ada, made).key == made


def test_the_owner_sees_who_had_access_when_and_ends_it(by, ada, night, device):
    attendance.open_device_by_label(by=by, night=night, label=device)
    made = club.record(by, device, night).key
    assert accesses.list_open_devices(ada) == ((device, "A-1"),)
    (row,) = accesses.list_accesses(ada, device)
    assert (row.operators, row.opened_by, row.how, row.open) == (("Osric",), "Osric", "label", True)
    assert (row.until, row.tests, row.night_on) == (None, 1, club.HELD_ON)
    assert attendance.end_access(by=ada, device=device) == 1
    (row,) = accesses.list_accesses(ada, device)
    assert row.until is not None and row.ended_by_owner and not row.open
    assert listed(by, night) == set()
    refused("test.not_found", tests_selectors.get_test, viewer=by, key=made)
    refused("device.not_found", devices_selectors.get_device_on_bench, viewer=by, key=device)
    refused("device.not_found", attendance.open_device_by_label, by=by, night=night, label=device)
    refused("device.not_found", club.record, by=by, device=device, night_key=night)
    # an own yes opens it again, and both accesses are in the list
    attendance.request_device(by=by, night=night, name="Ada", tag="A-1")
    attendance.answer_request(by=ada, request=BenchRequest.objects.get().key, yes=True)
    assert listed(by, night) == {device} and len(accesses.list_accesses(ada, device)) == 2


def test_it_ends_with_the_night_and_after_a_day_and_a_half(by, ada, night, device):
    attendance.open_device_by_label(by=by, night=night, label=device)
    made = club.record(by, device, night).key
    NightDevice.objects.update(brought_at=timezone.now() - timedelta(hours=37))
    refused("test.not_found", tests_selectors.get_test, viewer=by, key=made)
    attendance.open_device_by_label(by=by, night=night, label=device)
    assert tests_selectors.get_test(by, made).key == made
    nights.close_night(by=by, night=night, version=1)
    refused("test.not_found", tests_selectors.get_test, viewer=by, key=made)
    nights.reopen_night(by=by, night=night, version=2)
    assert listed(by, night) == set()
    assert len(accesses.list_accesses(ada, device)) == 2


def test_another_nights_operator_has_no_part_in_it(by, ada, night, device):
    other = club.operator("Ysolde")
    made = club.record(by, device, night).key
    club.night(other)
    refused("test.not_found", tests_selectors.get_test, viewer=other, key=made)
    refused("device.not_found", devices_selectors.get_device_on_bench, viewer=other, key=device)
    refused("night.not_found", attendance.open_device_by_label, by=other, night=night, label=device)


def test_a_request_tells_nothing_until_the_owner_says_yes(by, ada, night, device):
    for name, tag in (("Ada", "A-1"), ("Ada", "A-2"), ("Nobody", "A-1")):
        attendance.request_device(by=by, night=night, name=name, tag=tag)
    assert nights_selectors.get_night(by, night).requests == (
        ("Nobody", "A-1"),
        ("Ada", "A-2"),
        ("Ada", "A-1"),
    )
    assert listed(by, night) == set()
    (asked,) = accesses.list_requests(ada)
    assert (asked.device, asked.asked_by, asked.night_on) == (device, "Osric", club.HELD_ON)
    refused("request.not_found", attendance.answer_request, by=by, request=asked.key, yes=True)
    other = factories.member("Bea")
    refused("request.not_found", attendance.answer_request, by=other, request=asked.key, yes=True)
    attendance.answer_request(by=ada, request=asked.key, yes=False)
    assert len(nights_selectors.get_night(by, night).requests) == 3 and listed(by, night) == set()
    refused("request.not_found", attendance.answer_request, by=ada, request=asked.key, yes=True)


def test_an_intake_of_unreadable_files_finds_no_tags_and_leaves_a_trace(by, ada, night, device):
    club.guests_device(by, night, club.guest(by, night, "Ada"), tag="G-7")
    lines = ["file,tag,contributor,kind", "1.s2p,A-1,Ada,common_mode", "2.s2p,ZZ,Ada,common_mode"]
    lines += ["3.s2p,G-7,Ada,common_mode", "4.s2p,A-1,,common_mode"]
    files = [Upload(f"{number}.s2p", b"nothing that can be read") for number in (1, 2, 3, 4)]
    key = intakes.begin_intake(by=by, night=night, files=files, manifest="\n".join(lines)).key
    intakes.work_on_intake(intake=key)
    from measurements.selectors.intakes import intakes as rows

    found = rows.get_intake(by, key).files
    assert {row.state for row in found} == {"refused"} and len({row.reason for row in found}) == 1
    assert AuditEntry.objects.filter(action="intake.refuse", subject=key, actor="Osric").count() == 4
    assert "A-1" not in str(list(AuditEntry.objects.values_list("detail", flat=True)))
    for row in found:
        intakes.drop_file(by=by, intake=key, number=row.number)
    assert AuditEntry.objects.filter(action="intake.refuse").count() == 4


def test_a_readable_file_finds_only_what_is_on_the_bench(by, ada, night, device):
    lines = ["file,tag,contributor,kind", "1.s2p,A-1,Ada,common_mode", "2.s2p,ZZ,Nobody,common_mode"]
    lines.append(f"3.s2p,{device},,common_mode")
    files = [Upload(f"{number}.s2p", factories.choke_s2p(seed=number, points=101)) for number in (1, 2, 3)]
    key = intakes.begin_intake(by=by, night=night, files=files, manifest="\n".join(lines)).key
    intakes.work_on_intake(intake=key)
    from measurements.selectors.intakes import intakes as rows

    member, nobody, labelled = rows.get_intake(by, key).files
    said = [member.reason.replace("A-1", "?").replace("Ada", "?"), nobody.reason.replace("ZZ", "?")]
    assert said[0] == said[1].replace("Nobody", "?")
    assert labelled.state == "stored" and listed(by, night) == {device}
    assert accesses.list_accesses(ada, device)[0].how == "label"


def picture() -> bytes:
    import io

    from PIL import Image

    out = io.BytesIO()
    Image.new("RGB", (32, 32), "white").save(out, "JPEG")
    return out.getvalue()
