"""Whose device a unit of an intake is of: found by contributor and tag, or registered by its design."""

from __future__ import annotations

from dataclasses import dataclass, replace

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Design, Device, Night, NightDevice
from measurements.services.devices import attendance, devices, label_codes
from measurements.services.intakes.grouping import UnitAssignment
from measurements.services.nights import guests
from measurements.services.uploads.uploads import TestSettings

RATIO_MATTERS = ("load_match", "insertion_loss", "balance")


@dataclass(frozen=True)
class Placement:
    """Where a test will go. device: None where it has to be registered, then with `design`."""

    device: Device | None
    design: Design | None


def find_placement(by: Viewer, night: Night, assigned: UnitAssignment) -> Placement:
    """Look without writing anything.

    Raises BenchnightError `intake.whose`, `intake.unknown_tag`, `intake.unknown_design`, and what
    policy says where `by` does not run the night any more.
    """
    check_staff(by, night)
    design = _find_design(assigned.design) if assigned.design else None
    device = _find_device(night, assigned)
    if device is None and design is None:
        whose = assigned.contributor or "Nobody"
        raise BenchnightError(
            "intake.unknown_tag",
            f"{whose} has no device with the tag {assigned.tag!r}. Correct the tag, register the device, or "
            "name its design (its key or title) in the column design, and send this file again.",
            field="tag",
        )
    return Placement(device, design)


def check_staff(by: Viewer, night: Night) -> None:
    """Raise BenchnightError where `by` does not run the night any more."""
    policy.check_operator(by)
    policy.check_alter_night(by, attendance.get_night_staff(night))


def ensure_device(by: Viewer, night: Night, place: Placement, assigned: UnitAssignment) -> Device:
    """Return the device, registered for whoever brought it where it is new. Call inside a transaction.

    A label that the manifest names in place of a tag opens its device here. Raises `device.not_found` where
    its owner ended the night's access.
    """
    if place.device is not None:
        attendance.record_device_brought(by, night, place.device)
        return place.device
    person, _ = guests.ensure_attendee(by, night, assigned.contributor)
    # another unit may have registered it since we looked
    there = attendance.find_device_on_bench(night, person.contributor, assigned.tag)
    if there is not None:
        return there
    design = place.design.key if place.design is not None else assigned.design
    device = devices.register_device_for(by, person.contributor, design=design, tag=assigned.tag)
    label_codes.bind_blank_tag(by, assigned.tag, device)
    attendance.record_device_brought(by, night, device, NightDevice.How.REGISTERED)
    return device


def get_unit_settings(place: Placement, assigned: UnitAssignment) -> TestSettings:
    """Return the unit's settings; a ratio that no line gives is that of the design."""
    settings = assigned.settings
    if assigned.ratio_given or settings.kind not in RATIO_MATTERS:
        return settings
    design = place.device.design if place.device is not None else place.design
    return settings if design is None else replace(settings, ratio=design.ratio)


def _find_device(night: Night, assigned: UnitAssignment) -> Device | None:
    """Find a device on the night's bench, or the one that the key on a label opens; no other device."""
    labelled = attendance.find_device_by_label(assigned.tag)
    if labelled is not None:
        return labelled
    if assigned.contributor:
        owner = guests.find_contributor_by_name(night, assigned.contributor)
        return None if owner is None else attendance.find_device_on_bench(night, owner, assigned.tag)
    live = NightDevice.objects.live().filter(night=night).values("device")
    here = Device.objects.select_related("contributor", "design").filter(
        pk__in=live, tag__iexact=assigned.tag
    )
    found = list(here[:2])
    if len(found) == 1:
        return found[0]
    why = "Several people brought a device" if found else "Nobody brought a device yet"
    raise BenchnightError(
        "intake.whose",
        f"{why} with the tag {assigned.tag!r}. Say whose it is in the column contributor.",
        field="contributor",
    )


def _find_design(named: str) -> Design:
    """Return by its key, or by its whole title."""
    exact = Design.objects.select_related("merged_into").filter(key=named.lower()).first()
    if exact is not None:
        return exact.merged_into or exact
    alike = list(Design.objects.filter(title__iexact=named, merged_into=None)[:2])
    if len(alike) == 1:
        return alike[0]
    raise BenchnightError(
        "intake.unknown_design",
        "There is no design of this key or title. Register its recipe first, or copy the key from its page.",
        field="design",
    )
