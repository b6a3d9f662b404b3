"""Puts devices on a night's list: from then on its operators see them and work on them.

An operator names a device by whose it is and the tag that is on it, as it lies on the bench. What else the
same person owns stays unseen, and each bringing is in the audit.
"""

from __future__ import annotations

from django.db import transaction

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import audit, night_access
from measurements.ingest.stored import Stored
from measurements.models import Contributor, Device, Night, NightContributor, NightDevice


def bring(*, by: Viewer, night: str, contributor: str, tag: str) -> Stored:
    """Puts a device that is stored already on a night's list: whose it is, and the tag that is on it.

    contributor: key on the night's list. Its operators see this one device from then on, and no other of
    the same owner. Raises BenchnightError `device.not_found`.
    """
    found = night_access.still_open(by, night)
    owner = night_access.attendee(found, contributor).contributor
    device = tagged(owner, tag)
    if device is None:
        raise BenchnightError(
            "device.not_found",
            f"{_owner_name(owner)} has no device with the tag {' '.join(tag.split())!r}. Register it.",
            kind="not_found",
            field="tag",
        )
    with transaction.atomic():
        return Stored(device.key, created=bring_to(by, found, device))


def bring_to(by: Viewer, night: Night, device: Device) -> bool:
    """Notes that a device was brought to a night, and whoever owns it came; whether that is new.

    Call inside a transaction.
    """
    NightContributor.objects.get_or_create(night=night, contributor_id=device.contributor_id)
    _, new = NightDevice.objects.get_or_create(night=night, device=device)
    if new:
        audit.note(by=by, action="night.bring", subject=device.key, night=night.key)
    return new


def tagged(owner: Contributor, tag: str) -> Device | None:
    """The owner's device of this tag; its case decides only where two tags differ in nothing else."""
    plain = " ".join(tag.split())
    alike = list(owner.devices.select_related("contributor", "design").filter(tag__iexact=plain)[:3])
    exact = [device for device in alike if device.tag == plain]
    found = exact or (alike if len(alike) == 1 else [])
    return found[0] if found else None


def _owner_name(owner: Contributor) -> str:
    return owner.guest_name if owner.member is None else owner.member.name
