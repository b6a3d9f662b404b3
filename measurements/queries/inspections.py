"""Inspections of a device, the newest first."""

from __future__ import annotations

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.models import Inspection
from measurements.queries import devices, paging
from measurements.queries.rows import Page
from measurements.queries.rows_of_upkeep import FindingRow, InspectionRow
from measurements.verdict.checklist import ITEMS, worst


def listing(
    viewer: Viewer, device: str, *, cursor: str | None = None, limit: int = paging.DEFAULT_LIMIT
) -> Page[InspectionRow]:
    """Inspections of a device, the last recorded first. Raises BenchnightError `device.not_found`."""
    devices.one(viewer, device)
    size = paging.checked_limit(limit)
    rows = Inspection.objects.filter(device__key=device).select_related("recorded_by", "device")
    found, next_cursor = paging.newest_first(rows, "recorded_at", cursor, size)
    return Page(tuple(_row(row) for row in found), next_cursor)


def one(viewer: Viewer, key: str) -> InspectionRow:
    """An inspection. Raises BenchnightError `inspection.not_found`."""
    row = Inspection.objects.filter(key=key).select_related("recorded_by", "device").first()
    missing = BenchnightError(
        "inspection.not_found", "There is no such inspection of yours.", kind="not_found"
    )
    if row is None:
        raise missing
    try:
        devices.one(viewer, row.device.key)
    except BenchnightError as error:
        raise missing if error.kind == "not_found" else error from error
    return _row(row)


def _row(row: Inspection) -> InspectionRow:
    findings = tuple(
        FindingRow(item.code, item.title, given["state"], given["note"])
        for item in ITEMS
        if (given := row.findings.get(item.code)) is not None
    )
    return InspectionRow(
        key=row.key,
        device=row.device.key,
        inspected_on=row.inspected_on,
        recorded_at=row.recorded_at,
        recorded_by=row.recorded_by.name if row.recorded_by is not None else "",
        findings=findings,
        dc_ohm=row.dc_ohm,
        notes=row.notes,
        worst=worst([finding.state for finding in findings]),
    )
