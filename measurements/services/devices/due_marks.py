"""Marks devices as due after an event, such as a storm.

A mark is clear once what its event asks for was done since (`fitness/standing_marks.py`); the row stays.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.fitness.due_events import DUE_EVENTS_BY_CODE
from measurements.models import AuditEntry, Device, DueMark
from measurements.models.keys import new_key
from measurements.services.devices import devices
from measurements.services.operations import audit

MOST_AT_ONCE = 500  # ticked one by one
MOST_OF_FILTER = 20_000
MOST_REASON = 120
PORTION = 500  # keys of one statement: SQLite takes some thousand parameters


@dataclass(frozen=True)
class MarkedDevices:
    """What one action marked. batch: takes it back, see `undo_marks`."""

    batch: str
    count: int


def mark_devices_due(
    *,
    by: Viewer,
    devices_marked: Sequence[str],
    reason: str = "",
    event: str = "other",
    most: int = MOST_AT_ONCE,
) -> MarkedDevices:
    """Mark these devices as due from today on.

    For stewards, and operators of devices of their own. All or none are marked. most: how many may be named.
    reason: what its owner reads; not needed where the event says it.
    Raises BenchnightError: `due.nothing`, `due.too_many`, `due.event`, `due.reason`, `device.not_found`.
    """
    policy.check_operator(by)
    keys = _check_keys(devices_marked, most)
    said = check_event(event, reason)
    batch, now = new_key(), timezone.now()
    with transaction.atomic():
        found = list(_find_own_devices(by, keys))
        DueMark.objects.bulk_create(
            (
                DueMark(
                    device=device,
                    event=event,
                    since=timezone.localdate(),
                    reason=said,
                    marked_at=now,
                    marked_by_id=by.member_id,
                    batch=batch,
                )
                for device in found
            ),
            batch_size=PORTION,
        )
        _record_all(by, "device.mark_due", found, batch=batch)
    return MarkedDevices(batch, len(found))


def clear_due_marks(*, by: Viewer, devices_marked: Sequence[str]) -> None:
    """Take marks back that were made by mistake. For operators and stewards, all or none, as `mark`."""
    policy.check_operator(by)
    keys = _check_keys(devices_marked, MOST_AT_ONCE)
    with transaction.atomic():
        found = list(_find_own_devices(by, keys))
        DueMark.objects.filter(device__in=found).delete()
        _record_all(by, "device.clear_due", found)


def undo_marks(*, by: Viewer, batch: str) -> int:
    """Take back what one action marked; answers how many devices that were.

    Raises BenchnightError `due.no_batch` where there is no such action of `by`; a steward undoes any.
    """
    policy.check_operator(by)
    rows = DueMark.objects.filter(batch=batch)
    if not by.is_steward:
        rows = rows.filter(marked_by=by.member_id)
    with transaction.atomic():
        found = list(Device.objects.filter(due_marks__in=rows).only("pk", "key"))
        if not found:
            raise BenchnightError(
                "due.no_batch", "These marks are taken back already.", kind="not_found", field="batch"
            )
        rows.delete()
        _record_all(by, "device.clear_due", found, batch=batch)
    return len(found)


def _record_all(by: Viewer, action: str, found: Sequence[Device], **detail: str) -> None:
    AuditEntry.objects.bulk_create(
        (audit.build_entry(by=by, action=action, subject=device.key, **detail) for device in found),
        batch_size=PORTION,
    )


def _find_own_devices(by: Viewer, keys: Sequence[str]) -> Iterator[Device]:
    """Yield the devices, in portions. Raises BenchnightError `device.not_found` where one is not to alter."""
    for start in range(0, len(keys), PORTION):
        portion = keys[start : start + PORTION]
        found = list(Device.objects.select_related("contributor").filter(key__in=portion))
        if len(found) != len(portion):
            raise policy.build_not_found("device")
        for device in found:
            if not by.is_steward:
                policy.check_alter_device(by, devices.get_device_ownership(device))
            yield device


def _check_keys(given: Sequence[str], most: int) -> list[str]:
    """Return each once."""
    keys = list(dict.fromkeys(given))
    if not keys:
        raise BenchnightError("due.nothing", "Choose at least one device.", field="devices")
    if len(keys) > most:
        raise BenchnightError("due.too_many", f"Choose up to {most} at a time.", field="devices")
    return keys


def check_event(event: str, reason: str) -> str:
    """Return the reason in one line. Raises BenchnightError `due.event`, `due.reason`."""
    if event not in DUE_EVENTS_BY_CODE:
        raise BenchnightError("due.event", f"Choose one of: {', '.join(DUE_EVENTS_BY_CODE)}.", field="event")
    said = " ".join(reason.split())
    least = 1 if event == "other" else 0
    if not least <= len(said) <= MOST_REASON or (said and not said.isprintable()):
        raise BenchnightError("due.reason", f"Say why in up to {MOST_REASON} characters.", field="reason")
    return said
