"""Records inspections: a look at a device, item by item."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError, ErrorCollector, check_name_count
from measurements.fitness.checklist import ITEM_STATES, ITEMS_BY_CODE
from measurements.models import Device, Inspection
from measurements.services.devices import attendance, devices
from measurements.services.operations import audit
from measurements.services.operations.audit import WriteResult

MOST_NOTE = 300
MOST_NOTES = 4000
MOST_OHM = 1e9
MOST_OF_DEVICE = 1000
EARLIEST = date(1990, 1, 1)


def record_inspection(
    *,
    by: Viewer,
    device: str,
    inspected_on: date,
    findings: Mapping[str, Any],
    dc_ohm: float | None = None,
    notes: str = "",
    night: str | None = None,
) -> WriteResult:
    """Store an inspection; the same one sent again finds the first.

    findings: item of the check list -> {"state": ok, watch, fault or not_looked, "note": text}; items that
    are not named were not looked at. A fault stands until its item is answered ok with a note of what was
    done. dc_ohm: resistance through the winding, as measured.
    Raises BenchnightError with every fault; `device.not_found` where `by` may not alter the device.
    """
    found = devices.get_own_device(by, device)
    made_on = None if night is None else attendance.get_open_night(by, night)
    fields = _check_fields(inspected_on, findings, dc_ohm, notes)
    fields["content_sha256"] = _content_sha256(fields, found)
    already = _find_same_inspection(found, fields)
    if already is not None:
        return already
    if found.inspections.count() >= MOST_OF_DEVICE:
        raise BenchnightError("inspection.too_many", f"A device keeps {MOST_OF_DEVICE}.", kind="too_many")
    try:
        with transaction.atomic():
            row = Inspection.objects.create(
                device=found, recorded_by_id=by.member_id, night=made_on, **fields
            )
            audit.record_action(by=by, action="inspection.record", subject=row.key, device=found.key)
    except IntegrityError:
        # another request stored the same one between our look and our write
        already = _find_same_inspection(found, fields)
        if already is None:
            raise
        return already
    return WriteResult(row.key, created=True)


def withdraw_inspection(*, by: Viewer, inspection: str) -> str:
    """Delete an inspection that was recorded by mistake; answers the key of its device.

    Raises BenchnightError `inspection.not_found`.
    """
    row = Inspection.objects.select_related("device").filter(key=inspection).first()
    missing = BenchnightError(
        "inspection.not_found", "There is no such inspection of yours.", kind="not_found"
    )
    if row is None:
        raise missing
    try:
        devices.get_own_device(by, row.device.key)
    except BenchnightError as error:
        raise missing if error.kind == "not_found" else error from error
    with transaction.atomic():
        audit.record_action(by=by, action="inspection.withdraw", subject=row.key, device=row.device.key)
        row.delete()
    return row.device.key


def _find_same_inspection(device: Device, fields: Mapping[str, Any]) -> WriteResult | None:
    row = Inspection.objects.filter(device=device, content_sha256=fields["content_sha256"]).first()
    return None if row is None else WriteResult(row.key, created=False)


def _check_fields(
    inspected_on: date, findings: Mapping[str, Any], dc_ohm: float | None, notes: str
) -> dict[str, Any]:
    faults = ErrorCollector("inspection.invalid", "Some answers need mending; see the list.")
    if not EARLIEST <= inspected_on <= (timezone.now() + timedelta(days=1)).date():
        faults.add("inspected_on", "inspection.inspected_on", "Give the day of the inspection.")
    if dc_ohm is not None and not (math.isfinite(dc_ohm) and 0 <= dc_ohm <= MOST_OHM):
        faults.add("dc_ohm", "inspection.dc_ohm", "Give the resistance in ohm, 0 or more.")
    if len(notes) > MOST_NOTES or "\x00" in notes:
        faults.add("notes", "inspection.notes", f"Keep the notes under {MOST_NOTES} characters of text.")
    looked = _findings(findings, faults)
    if not looked and dc_ohm is None and not faults.any:
        faults.add("findings", "inspection.empty", "Say of at least one item how it looked.")
    faults.raise_any()
    return {"inspected_on": inspected_on, "findings": looked, "dc_ohm": dc_ohm, "notes": notes.strip()}


def _findings(findings: Mapping[str, Any], faults: ErrorCollector) -> dict[str, dict[str, str]]:
    """Return items that were looked at, each with its state and note."""
    check_name_count(findings, ITEMS_BY_CODE, "findings")
    looked: dict[str, dict[str, str]] = {}
    for code, given in findings.items():
        field = f"findings.{code}"
        if code not in ITEMS_BY_CODE:
            faults.add(field, "inspection.unknown_item", f"The items are: {', '.join(ITEMS_BY_CODE)}.")
            continue
        state, note = given.get("state", "not_looked"), str(given.get("note", "")).strip()
        if state not in ITEM_STATES:
            faults.add(field, "inspection.state", f"Answer with one of: {', '.join(ITEM_STATES)}.")
        elif len(note) > MOST_NOTE or not note.replace("\n", " ").replace("\r", " ").isprintable():
            faults.add(field, "inspection.note", f"Keep the note under {MOST_NOTE} characters of text.")
        elif state == "not_looked" and note:
            faults.add(field, "inspection.note_without_look", "Say how it looked, or take the note away.")
        elif state != "not_looked":
            looked[code] = {"state": state, "note": note}
    return looked


def _content_sha256(fields: Mapping[str, Any], device: Device) -> str:
    """Return what finds the same form again. After a mark the same answers are a new inspection."""
    content = {**fields, "inspected_on": fields["inspected_on"].isoformat()}
    mark = device.due_marks.order_by("-pk").values_list("batch", flat=True).first()
    if mark is not None:
        content["after"] = mark
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()
