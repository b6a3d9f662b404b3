"""Marks devices as due, as after a storm; a later test that counts or a later inspection clears the mark."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.db import transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Device, Test
from measurements.services.devices import devices
from measurements.services.operations import audit

MOST_AT_ONCE = 500
MOST_REASON = 120


def mark_devices_due(*, by: Viewer, devices_marked: Sequence[str], reason: str) -> int:
    """Mark these devices as due from today on; return how many.

    For stewards, and operators of devices of their own. All or none are marked.
    Raises BenchnightError: `due.nothing`, `due.too_many`, `due.reason`, `device.not_found`.
    """
    policy.check_operator(by)
    keys = _keys(devices_marked)
    said = " ".join(reason.split())
    if not 1 <= len(said) <= MOST_REASON or not said.isprintable():
        raise BenchnightError("due.reason", f"Say why in up to {MOST_REASON} characters.", field="reason")
    with transaction.atomic():
        for key in keys:
            found = devices.get_own_device(by, key)
            _set_due_mark(found, timezone.localdate(), said)
            audit.record_action(by=by, action="device.mark_due", subject=found.key)
    return len(keys)


def clear_due_marks(*, by: Viewer, devices_marked: Sequence[str]) -> None:
    """Take marks back that were made by mistake. For operators and stewards, all or none, as `mark`."""
    policy.check_operator(by)
    with transaction.atomic():
        for key in _keys(devices_marked):
            found = devices.get_own_device(by, key)
            _set_due_mark(found, None, "")
            audit.record_action(by=by, action="device.clear_due", subject=found.key)


def clear_due_mark_by_test(test: Test) -> None:
    """To be called in the transaction that stores a test, once its result is there."""
    if devices.is_test_counted(test):
        clear_due_mark_by_date(test.device_id, test.measured_on)


def clear_due_mark_by_date(device_id: int, day: date) -> None:
    """Clear a mark that is not younger than what was done on `day`."""
    Device.objects.filter(pk=device_id, due_since__lte=day).update(due_since=None, due_reason="")


def _keys(given: Sequence[str]) -> list[str]:
    """Return each once."""
    keys = list(dict.fromkeys(given))
    if not keys:
        raise BenchnightError("due.nothing", "Choose at least one device.", field="devices")
    if len(keys) > MOST_AT_ONCE:
        raise BenchnightError("due.too_many", f"Choose up to {MOST_AT_ONCE} at a time.", field="devices")
    return keys


def _set_due_mark(device: Device, since: date | None, reason: str) -> None:
    Device.objects.filter(pk=device.pk).update(due_since=since, due_reason=reason)
