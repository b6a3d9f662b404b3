"""Marks a device as the group's check standard, and ends that.

Marked, it gives no evidence to any design. Its past sweeps join its chart; they hold nothing back, since the
tests of those days were looked at by other means.
"""

from __future__ import annotations

from datetime import date, timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import CheckStandard, Device
from measurements.services.devices import devices
from measurements.services.operations import audit
from measurements.services.operations.audit import WriteResult

MOST_STANDARDS = 20  # of a group at a time: each page of an operator lists them all
EARLIEST = date(1990, 1, 1)


def mark_check_standard(*, by: Viewer, device: str, counts_from: date | None = None) -> WriteResult:
    """Make a device the group's check standard; the same device again answers the first one.

    by: an operator who owns the device, or a steward. counts_from: its sweeps count from that day on; None:
    all of them. Operators of the group see its chart from now on.
    Raises BenchnightError `device.not_found`, `check.counts_from`, `check.too_many`.
    """
    policy.check_operator(by)
    found = devices.get_own_device(by, device)
    if counts_from is not None and not EARLIEST <= counts_from <= timezone.now().date() + timedelta(days=1):
        raise BenchnightError(
            "check.counts_from", "Give a day that is not in the future, or none.", field="counts_from"
        )
    same = CheckStandard.objects.filter(device=found, ended_at=None).first()
    if same is not None:
        return WriteResult(same.key, created=False)
    if CheckStandard.objects.filter(ended_at=None).count() >= MOST_STANDARDS:
        raise BenchnightError(
            "check.too_many",
            f"A group keeps up to {MOST_STANDARDS} check standards. End one first.",
            kind="too_many",
        )
    try:
        with transaction.atomic():
            standard = CheckStandard.objects.create(
                device=found, marked_by_id=by.member_id, counts_from=counts_from
            )
            Device.objects.filter(pk=found.pk).update(is_check_standard=True)
            audit.record_action(by=by, action="check.mark", subject=standard.key, device=found.key)
    except IntegrityError:
        same = CheckStandard.objects.get(device=found, ended_at=None)  # two marked it at once
        return WriteResult(same.key, created=False)
    return WriteResult(standard.key, created=True)


def end_check_standard(*, by: Viewer, standard: str) -> None:
    """End that a device is the check standard; it may vote again. Tests that wait go on waiting.

    by: an operator who owns the device, or a steward.
    Raises BenchnightError `check.not_found`, `check.ended`.
    """
    policy.check_operator(by)
    found = CheckStandard.objects.select_related("device__contributor").filter(key=standard).first()
    if found is None or not policy.can_alter_device(by, devices.get_device_ownership(found.device)):
        raise BenchnightError(
            "check.not_found", "There is no such check standard of yours.", kind="not_found"
        )
    with transaction.atomic():
        if not CheckStandard.objects.filter(pk=found.pk, ended_at=None).update(ended_at=timezone.now()):
            raise BenchnightError("check.ended", "It is no check standard any more.", kind="conflict")
        Device.objects.filter(pk=found.device_id).update(is_check_standard=False)
        audit.record_action(by=by, action="check.end", subject=found.key, device=found.device.key)
