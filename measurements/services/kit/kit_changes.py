"""Changes many devices in one step, and undoes the step. All or none; each device has its line in the log."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Device, DueMark, KitChange, KitChangeRow
from measurements.services.devices import devices, due_marks
from measurements.services.operations import audit

MOST_AT_ONCE = 2000
KEPT_DAYS = 30
DUE_FIELDS = ("due_event", "due_reason")
BULK_FIELDS = ("place", "retired_on", *DUE_FIELDS)


@dataclass(frozen=True)
class UndoneChange:
    """How many devices are as before, and the tags of those that somebody changed since, which stay."""

    undone: int
    kept: tuple[str, ...]


def change_devices(*, by: Viewer, chosen: Sequence[str], changes: Mapping[str, Any]) -> tuple[str, int]:
    """Write the same values to every chosen device; answers the change's key and how many differ now.

    changes: any of place, retired_on, and due_event with due_reason, which marks them as due.
    Raises BenchnightError `kit.nothing`, `kit.too_many`, `kit.unknown_field`, `device.not_found`, and as
    `devices.update_device`.
    """
    policy.check_signed_in(by)
    keys = list(dict.fromkeys(chosen))
    if not keys or not changes:
        raise BenchnightError("kit.nothing", "Choose devices, and say what to change.", field="devices")
    if len(keys) > MOST_AT_ONCE:
        raise BenchnightError("kit.too_many", f"Choose up to {MOST_AT_ONCE} at a time.", field="devices")
    unknown = sorted(set(changes) - set(BULK_FIELDS))
    if unknown:
        raise BenchnightError(
            "kit.unknown_field", f"One step changes these: {', '.join(BULK_FIELDS)}.", field=unknown[0]
        )
    plain = {name: value for name, value in changes.items() if name not in DUE_FIELDS}
    event, reason = changes.get("due_event"), changes.get("due_reason", "")
    said = due_marks.check_event(event, reason) if event is not None else ""
    with transaction.atomic():
        change = begin_change(by)
        for key in keys:
            device = devices.get_own_device(by, key)
            write_device(by, change, device, plain)
            if event is not None:
                _mark_due(by, change, device, event, said)
        changed = change.rows.count()
        if not changed:
            change.delete()
    return (change.key if changed else ""), changed


def begin_change(by: Viewer) -> KitChange:
    """Begin a step of `by`. Inside a transaction."""
    KitChange.objects.filter(made_at__lt=timezone.now() - timedelta(days=KEPT_DAYS)).delete()
    return KitChange.objects.create(made_by_id=by.member_id)


def write_device(by: Viewer, change: KitChange, device: Device, values: Mapping[str, Any]) -> None:
    """Write what differs, and note before and after. Inside a transaction; `by` may alter the device."""
    before = {name: get_value(device, name) for name in values}
    differs = {name: value for name, value in values.items() if before[name] != encode_value(value)}
    if not differs:
        return
    _write_values(by, device, differs)
    KitChangeRow.objects.create(
        change=change,
        device=device,
        before={name: before[name] for name in differs},
        after={name: encode_value(value) for name, value in differs.items()},
    )


def note_new_device(change: KitChange, device: str) -> None:
    """Note that the step registered a device: undoing it takes the device away again."""
    KitChangeRow.objects.create(change=change, device=Device.objects.get(key=device), after={"new": True})


def undo_change(*, by: Viewer, change: str) -> UndoneChange:
    """Undo a step of `by`: each device gets back what it had, where nobody changed that since.

    A device that the step registered goes again, unless something was stored of it meanwhile.
    Raises BenchnightError `kit.no_such_change`, `device.not_found`.
    """
    policy.check_signed_in(by)
    with transaction.atomic():
        found = KitChange.objects.filter(key=change, made_by=by.member_id).first()
        now = timezone.now()
        # the conditional UPDATE decides between two taps
        if found is None or not KitChange.objects.filter(pk=found.pk, undone_at=None).update(undone_at=now):
            raise BenchnightError(
                "kit.no_such_change", "There is no such step of yours that can be undone.", kind="not_found"
            )
        rows = list(found.rows.select_related("change", "device__contributor", "device__design"))
        kept = tuple(row.device.tag for row in rows if not _undo_row(by, row))
        audit.record_action(by=by, action="kit.undo", subject=found.key, devices=len(rows) - len(kept))
    return UndoneChange(len(rows) - len(kept), kept)


def encode_value(value: Any) -> Any:
    """Return a value as JSON holds it: dates as ISO text."""
    return value.isoformat() if isinstance(value, date) else value


def get_value(device: Device, name: str) -> Any:
    """Return a field as JSON holds it; the design by its key."""
    if name == "design":
        return None if device.design is None else device.design.key
    return encode_value(getattr(device, name))


def _write_values(by: Viewer, device: Device, values: Mapping[str, Any]) -> None:
    if values:
        devices.update_device(by=by, device=device.key, version=device.version, **values)


def _mark_due(by: Viewer, change: KitChange, device: Device, event: str, reason: str) -> None:
    """Mark one device; the key of the step names its mark, so that undoing the step takes it back."""
    DueMark.objects.create(
        device=device,
        event=event,
        since=timezone.localdate(),
        reason=reason,
        marked_at=timezone.now(),
        marked_by_id=by.member_id,
        batch=change.key,
    )
    row, _ = KitChangeRow.objects.get_or_create(change=change, device=device)
    KitChangeRow.objects.filter(pk=row.pk).update(marked=True)
    audit.record_action(by=by, action="device.mark_due", subject=device.key)


def _undo_row(by: Viewer, row: KitChangeRow) -> bool:
    """Bring one device back; False where it was changed since and stays."""
    device = devices.get_own_device(by, row.device.key)
    if row.after == {"new": True}:
        if any(each.exists() for each in (device.tests, device.inspections, device.photos, device.loans)):
            return False
        audit.record_action(by=by, action="device.unregister", subject=device.key)
        device.delete()
        return True
    if any(get_value(device, name) != value for name, value in row.after.items()):
        return False
    if row.marked:
        DueMark.objects.filter(device=device, batch=row.change.key).delete()
        audit.record_action(by=by, action="device.clear_due", subject=device.key)
    _write_values(by, device, {name: _decode_value(name, value) for name, value in row.before.items()})
    return True


def _decode_value(name: str, value: Any) -> Any:
    return date.fromisoformat(value) if name.endswith(("_on", "_since")) and value else value
