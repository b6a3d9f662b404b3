"""Devices of a bundle, their labels, marks, loans and stays at nights, and check standards."""

from __future__ import annotations

from django.db.models import F
from django.utils import timezone

from measurements.fitness.due_events import DUE_EVENTS_BY_CODE
from measurements.models import (
    CheckHold,
    CheckStandard,
    Contributor,
    Design,
    Device,
    DueMark,
    Handover,
    LabelCode,
    Loan,
    Night,
    NightDevice,
)
from measurements.services.bundles.import_run import ImportRun
from measurements.services.bundles.row_fields import (
    Row,
    get_person,
    insert_row,
    parse_values,
)
from measurements.services.bundles.zip_entries import build_refusal

DEVICE_FIELDS = (
    "origin",
    "built_on",
    "notes",
    "place",
    "kind",
    "ratio",
    "make",
    "retired_on",
    "is_check_standard",
)


def create_device(run: ImportRun, row: Row) -> Device:
    owner = get_person(run, row)
    given = tuple(name for name in DEVICE_FIELDS if name in row)
    device: Device = insert_row(
        Device,
        parse_values(row, ("registered_at",)),
        key=row["key"],
        contributor=owner,
        voter=None if row["voter_ref"] is None else run.people[row["voter_ref"]],
        design=None if row["design"] is None else Design.objects.get(key=row["design"]),
        tag=choose_free_tag(owner, row["tag"], row["key"]),
        **parse_values(row, given),
    )
    return device


def choose_free_tag(owner: Contributor, tag: str, key: str, *, besides: int | None = None) -> str:
    """Return the tag, with the start of the device's key where the owner has that tag already."""
    if not owner.devices.filter(tag=tag).exclude(pk=besides).exists():
        return tag
    return f"{tag[:59]}-{key[:4]}"


def change_device(run: ImportRun, device: Device, changes: Row) -> None:
    plain = tuple(name for name in changes if name in DEVICE_FIELDS)
    values = parse_values({"key": device.key, **changes}, plain)
    owner = device.contributor
    if "person" in changes:
        owner = values["contributor"] = get_person(run, changes)
    if "tag" in changes or "person" in changes:
        tag = changes.get("tag", device.tag)
        values["tag"] = choose_free_tag(owner, tag, device.key, besides=device.pk)
    if "design" in changes:
        key = changes["design"]
        values["design"] = None if key is None else Design.objects.get(key=key)
    if "voter" in changes:
        values["voter"] = None if changes["voter_ref"] is None else run.people[changes["voter_ref"]]
    Device.objects.filter(pk=device.pk).update(version=F("version") + 1, **values)


def create_label(_run: ImportRun, row: Row) -> LabelCode:
    """Bind a printed code to its device; one that waits here for a device is bound now."""
    device = Device.objects.get(key=row["device"])
    label, _ = LabelCode.objects.update_or_create(
        code=row["key"], defaults={"device": device, "bound_at": timezone.now()}
    )
    return label


def create_mark(_run: ImportRun, row: Row) -> DueMark:
    if row["event"] not in DUE_EVENTS_BY_CODE:
        raise build_refusal("bundle.row", f"{row['key']} names an event that this server does not know.")
    mark: DueMark = insert_row(
        DueMark,
        device=Device.objects.get(key=row["device"]),
        **parse_values(row, ("event", "since", "reason", "marked_at", "batch")),
    )
    return mark


def find_mark(row: Row) -> DueMark | None:
    marks = DueMark.objects.select_related("device")
    return marks.filter(device__key=row["device"], batch=row["batch"], event=row["event"]).first()


def create_loan(_run: ImportRun, row: Row) -> Loan:
    """Store a loan; one that is open there is over here, where somebody else has the device now."""
    device, values = Device.objects.get(key=row["device"]), parse_values(row, ("lent_on", "returned_on"))
    if values["returned_on"] is None and device.loans.filter(returned_on=None).exists():
        values["returned_on"] = max(values["lent_on"], timezone.localdate())
    loan: Loan = insert_row(Loan, key=row["key"], device=device, borrower=row["borrower"], **values)
    return loan


def create_handover(_run: ImportRun, row: Row) -> Handover:
    values = parse_values(row, ("to_group", "name", "answer", "answered_at"))
    device, stamps = Device.objects.get(key=row["device"]), parse_values(row, ("offered_at",))
    handover: Handover = insert_row(Handover, stamps, key=row["key"], device=device, **values)
    return handover


def find_stay(row: Row) -> NightDevice | None:
    stays = NightDevice.objects.select_related("night", "device")
    moment = parse_values(row, ("brought_at",))["brought_at"]
    return stays.filter(night__key=row["night"], device__key=row["device"], brought_at=moment).first()


def create_stay(_run: ImportRun, row: Row) -> NightDevice:
    night, device = Night.objects.get(key=row["night"]), Device.objects.get(key=row["device"])
    values = parse_values(row, ("opened_how", "ended_at", "ended_by_owner"))
    open_one = NightDevice.objects.filter(night=night, device=device, ended_at=None)
    if values["ended_at"] is None and open_one.exists():
        values["ended_at"] = timezone.now()
    stay: NightDevice = insert_row(
        NightDevice, parse_values(row, ("brought_at",)), night=night, device=device, **values
    )
    return stay


def create_standard(_run: ImportRun, row: Row) -> CheckStandard:
    device = Device.objects.get(key=row["device"])
    values = parse_values(row, ("counts_from", "ended_at"))
    if values["ended_at"] is None and device.standards.filter(ended_at=None).exists():
        values["ended_at"] = timezone.now()  # it is this server's check standard already
    standard: CheckStandard = insert_row(
        CheckStandard, parse_values(row, ("marked_at",)), key=row["key"], device=device, **values
    )
    return standard


def create_hold(_run: ImportRun, row: Row) -> CheckHold:
    names = (
        "test_key",
        "kind",
        "method",
        "measured_on",
        "findings",
        "advice",
        "ended_at",
        "ended_how",
        "reason",
    )
    hold: CheckHold = insert_row(
        CheckHold,
        parse_values(row, ("made_at",)),
        key=row["key"],
        standard=CheckStandard.objects.filter(key=row["standard"]).first(),
        night=Night.objects.get(key=row["night"]),
        **parse_values(row, names),
    )
    return hold
