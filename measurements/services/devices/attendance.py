"""Puts devices on a night's list: from then on its operators see them and work on them.

An operator names a device by whose it is and the tag that is on it, as it lies on the bench. What else the
same person owns stays unseen, and each bringing is in the audit.
"""

from __future__ import annotations

from django.db import transaction

from measurements.disclosure import policy
from measurements.disclosure.policy import NightStaff
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Contributor, Device, Night, NightContributor, NightDevice, NightOperator
from measurements.services.operations import audit
from measurements.services.operations.audit import WriteResult

# Finds the night that somebody wants to work on, and lets in those who run it.


def get_night_for_staff(by: Viewer, key: str) -> Night:
    """The night, when `by` runs it.

    Raises BenchnightError `night.not_found` otherwise, whether or not it exists; for who is no operator
    at all `account.operators_only`.
    """
    policy.check_operator(by)
    night = Night.objects.filter(key=key).first()
    if night is None:
        raise policy.build_not_found("night")
    policy.check_alter_night(by, get_night_staff(night))
    return night


def get_open_night(by: Viewer, key: str) -> Night:
    """The same, for what only an open night takes. Raises also BenchnightError `night.closed`."""
    night = get_night_for_staff(by, key)
    if night.closed_at is not None:
        raise BenchnightError(
            "night.closed", "This night is closed. Open it again to add to it.", kind="conflict"
        )
    return night


def get_night_staff(night: Night) -> NightStaff:
    """Who runs it."""
    return NightStaff(NightOperator.objects.of_night(night.pk))


def get_attendee(night: Night, key: str) -> NightContributor:
    """Who came, by the key of this night. Raises BenchnightError `night.nobody`."""
    found = (
        NightContributor.objects.select_related("contributor__member").filter(night=night, key=key).first()
    )
    if found is None:
        raise BenchnightError(
            "night.nobody",
            "Nobody of this key is on this night's list.",
            kind="not_found",
            field="contributor",
        )
    return found


def add_device_to_night(*, by: Viewer, night: str, contributor: str, tag: str) -> WriteResult:
    """Puts a device that is stored already on a night's list: whose it is, and the tag that is on it.

    contributor: key on the night's list. Its operators see this one device from then on, and no other of
    the same owner. Raises BenchnightError `device.not_found`.
    """
    found = get_open_night(by, night)
    owner = get_attendee(found, contributor).contributor
    device = find_device_by_tag(owner, tag)
    if device is None:
        raise BenchnightError(
            "device.not_found",
            f"{_get_owner_name(owner)} has no device with the tag {' '.join(tag.split())!r}. Register it.",
            kind="not_found",
            field="tag",
        )
    with transaction.atomic():
        return WriteResult(device.key, created=record_device_brought(by, found, device))


def record_device_brought(by: Viewer, night: Night, device: Device) -> bool:
    """Notes that a device was brought to a night, and whoever owns it came; whether that is new.

    Call inside a transaction.
    """
    NightContributor.objects.get_or_create(night=night, contributor_id=device.contributor_id)
    _, new = NightDevice.objects.get_or_create(night=night, device=device)
    if new:
        audit.record_action(by=by, action="night.bring", subject=device.key, night=night.key)
    return new


def find_device_by_tag(owner: Contributor, tag: str) -> Device | None:
    """The owner's device of this tag; its case decides only where two tags differ in nothing else."""
    plain = " ".join(tag.split())
    alike = list(owner.devices.select_related("contributor", "design").filter(tag__iexact=plain)[:3])
    exact = [device for device in alike if device.tag == plain]
    found = exact or (alike if len(alike) == 1 else [])
    return found[0] if found else None


def _get_owner_name(owner: Contributor) -> str:
    return owner.guest_name if owner.member is None else owner.member.name
