"""Takes a table of kit: shows the difference to what is stored, and writes exactly what was shown."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError, FieldError
from measurements.models import Contributor, Design, Device
from measurements.services.devices import contributors, devices
from measurements.services.devices.device_fields import check_device_fields
from measurements.services.kit import kit_changes, kit_csv
from measurements.services.kit.kit_csv import TableRow

GROUP_WORDS = ("the group", "group")


@dataclass(frozen=True)
class PlannedDevice:
    """A row that changes something. key: "" for a new device. changes: column -> (before, after), as text."""

    line: int
    key: str
    tag: str
    changes: dict[str, tuple[str, str]]
    values: dict[str, Any]
    of_group: bool


@dataclass(frozen=True)
class TablePlan:
    """What a table would do. same: rows that change nothing. faults: with line and column.

    fingerprint: of the difference shown; only with it can the table be written.
    """

    rows: tuple[PlannedDevice, ...]
    same: int
    faults: tuple[FieldError, ...]
    fingerprint: str


def plan_table(*, by: Viewer, text: str, of_group: bool = False) -> TablePlan:
    """Hold a table against what is stored, without writing anything.

    of_group: new rows that name no owner are the group's. Raises BenchnightError `account.keepers_only`, and
    as `kit_csv.parse_table`.
    """
    policy.check_signed_in(by)
    if of_group:
        policy.check_keeper(by)
    planner = _Planner(by, of_group)
    rows = [planner.plan(row) for row in kit_csv.parse_table(text)]
    planned = tuple(row for row in rows if row is not None and (row.changes or not row.key))
    same = sum(row is not None and not row.changes and bool(row.key) for row in rows)
    shown = [[row.line, row.key, row.tag, row.changes, row.of_group] for row in planned]
    fingerprint = hashlib.sha256(json.dumps(shown, sort_keys=True).encode()).hexdigest()[:32]
    return TablePlan(planned, same, tuple(planner.faults), fingerprint)


def check_plan(plan: TablePlan) -> None:
    """Raise BenchnightError `kit.table_faults` with line and column of every fault."""
    if plan.faults:
        raise BenchnightError(
            "kit.table_faults",
            "Nothing was written. Correct these cells first.",
            errors=plan.faults,
            found=len(plan.faults),
        )


def apply_table(*, by: Viewer, text: str, fingerprint: str, of_group: bool = False) -> tuple[str, int]:
    """Write what `plan_table` showed; answers the change's key, which undoes it, and how many devices.

    Raises BenchnightError `kit.table_faults` with every fault, `kit.differs` where something changed since,
    `kit.nothing`; then nothing is written.
    """
    with transaction.atomic():
        plan = plan_table(by=by, text=text, of_group=of_group)
        check_plan(plan)
        if plan.fingerprint != fingerprint:
            raise BenchnightError(
                "kit.differs", "The devices changed meanwhile. Look at the difference again.", kind="conflict"
            )
        if not plan.rows:
            raise BenchnightError("kit.nothing", "The table changes nothing.", field="table")
        change = kit_changes.begin_change(by)
        for row in plan.rows:
            _write_row(by, change, row)
    return change.key, len(plan.rows)


def _write_row(by: Viewer, change: Any, row: PlannedDevice) -> None:
    try:
        if row.key:
            kit_changes.write_device(by, change, devices.get_own_device(by, row.key), row.values)
            return
        stored = devices.register_device(by=by, of_group=row.of_group, **{"design": None, **row.values})
        kit_changes.note_new_device(change, stored.key)
    except BenchnightError as error:
        raise BenchnightError(
            error.code, error.detail, kind=error.kind, field=error.field, line=row.line
        ) from error


class _Planner:
    """Plans row after row; keeps the faults, and the tags that the rows before have taken."""

    def __init__(self, by: Viewer, of_group: bool) -> None:
        self.by = by
        self.of_group = of_group
        self.faults: list[FieldError] = []
        self._taken: dict[tuple[bool, str], int] = {}
        self._seen: dict[str, int] = {}
        own = Contributor.objects.filter(member=by.member_id).first()
        owners = [owner for owner in (own, contributors.find_group() if by.is_keeper else None) if owner]
        rows = Device.objects.filter(contributor__in=owners).select_related("contributor", "design")
        self._by_key = {device.key: device for device in rows}
        self._by_tag = {(device.contributor.is_group, device.tag): device for device in rows}
        titles = Design.objects.standing().values_list("title", "key")
        self._designs = {title.casefold(): key for title, key in titles}

    def plan(self, row: TableRow) -> PlannedDevice | None:
        """Plan the row; return None and note the fault where it has one."""
        before = len(self.faults)
        of_group = self._read_owner(row)
        device = self._find_device(row, of_group)
        if len(self.faults) > before:
            return None
        if device is not None:
            of_group = device.contributor.is_group
        values = dict(self._read_values(row, device))
        tag = values.get("tag", "" if device is None else device.tag)
        self._check_tag(row, tag, device, of_group)
        if len(self.faults) > before:
            return None
        changes = {
            name: (
                _show(None if device is None else device, name),
                str(kit_changes.encode_value(value) or ""),
            )
            for name, value in values.items()
            if device is None or kit_changes.get_value(device, name) != kit_changes.encode_value(value)
        }
        shown = {name: pair for name, pair in changes.items() if pair[0] != pair[1]}
        return PlannedDevice(row.line, "" if device is None else device.key, tag, shown, values, of_group)

    def _read_owner(self, row: TableRow) -> bool:
        """Return whether the row's device is the group's."""
        said = row.cells.get("owner", "").casefold()
        if said and said not in (*GROUP_WORDS, self.by.name.casefold()):
            self._fault(
                row, "owner", "kit.owner", "Write your own name or `the group`. Others hand over a device."
            )
        if said in GROUP_WORDS and not self.by.is_keeper:
            self._fault(row, "owner", "kit.owner", "Only kit keepers write the group's kit.")
        return said in GROUP_WORDS if said else self.of_group

    def _find_device(self, row: TableRow, of_group: bool) -> Device | None:
        key = row.cells.get("id", "")
        device = self._by_key.get(key) if key else self._by_tag.get((of_group, row.cells.get("tag", "")))
        if key and device is None:
            self._fault(
                row, "id", "kit.id", "There is no such device of yours. Leave it empty for a new one."
            )
        if device is not None:
            if device.key in self._seen:
                where = self._seen[device.key]
                self._fault(row, "id", "kit.twice", f"Line {where} is about the same device.")
            self._seen.setdefault(device.key, row.line)
            if row.cells.get("owner") and device.contributor.is_group != of_group:
                self._fault(row, "owner", "kit.owner", "A table changes no owner. Hand it over on its page.")
            self._check_shown_only(row, device)
        return device

    def _check_shown_only(self, row: TableRow, device: Device) -> None:
        said = row.cells.get("lent_to")
        loan = device.loans.filter(returned_on=None).first() if said is not None else None
        if said is not None and said != ("" if loan is None else loan.borrower):
            self._fault(
                row, "lent_to", "kit.lent", "A table lends nothing. Note a loan on the device's page."
            )

    def _read_values(self, row: TableRow, device: Device | None) -> Iterator[tuple[str, Any]]:
        for name in kit_csv.WRITABLE:
            if name not in row.cells or (device is None and not row.cells[name] and name != "tag"):
                continue
            try:
                value = kit_csv.parse_value(name, row.cells[name])
                if name == "design" and value is not None:
                    value = self._designs.get(value.casefold(), value)
                check_device_fields({name: value})
            except BenchnightError as error:
                self._fault(row, name, error.code, error.detail)
            except ValueError:
                self._fault(row, name, "kit.date", "Write the date as 2026-05-14.")
            else:
                yield name, value

    def _check_tag(self, row: TableRow, tag: str, device: Device | None, of_group: bool) -> None:
        if device is None and not tag:
            self._fault(row, "tag", "device.tag", "A new device needs a tag.")
        holder = self._by_tag.get((of_group, tag))
        if holder is not None and holder != device:
            self._fault(row, "tag", "device.tag_taken", f"Another device has the tag {tag!r}.")
        taken = self._taken.setdefault((of_group, tag), row.line)
        if taken != row.line:
            self._fault(row, "tag", "device.tag_taken", f"Line {taken} has the tag {tag!r} too.")

    def _fault(self, row: TableRow, field: str, code: str, detail: str) -> None:
        self.faults.append(FieldError(code, detail, field, row.line))


def _show(device: Device | None, name: str) -> str:
    return "" if device is None else str(kit_changes.get_value(device, name) or "")
