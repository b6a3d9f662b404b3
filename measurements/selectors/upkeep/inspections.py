"""Inspections of a device, the newest first."""

from __future__ import annotations

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.fitness.checklist import CHECKLIST_ITEMS, find_worst_state
from measurements.models import Inspection
from measurements.selectors import paging
from measurements.selectors.devices import devices
from measurements.selectors.paging import Page
from measurements.selectors.upkeep.rows import FindingRow, InspectionRow


def list_inspections(
    viewer: Viewer, device: str, *, cursor: str | None = None, limit: int = paging.DEFAULT_LIMIT
) -> Page[InspectionRow]:
    """Return inspections of a device, the last recorded first. Raises BenchnightError `device.not_found`."""
    devices.get_device(viewer, device)
    size = paging.check_limit(limit)
    rows = Inspection.objects.filter(device__key=device).select_related("recorded_by", "device")
    page = paging.paginate_newest_first(rows, "recorded_at", cursor, size)
    return Page(tuple(_inspection_row(row) for row in page.results), page.next_cursor, page.count)


def get_inspection(viewer: Viewer, key: str) -> InspectionRow:
    """Return an inspection. Raises BenchnightError `inspection.not_found`."""
    row = Inspection.objects.filter(key=key).select_related("recorded_by", "device").first()
    missing = BenchnightError(
        "inspection.not_found", "There is no such inspection of yours.", kind="not_found"
    )
    if row is None:
        raise missing
    try:
        devices.get_device(viewer, row.device.key)
    except BenchnightError as error:
        raise missing if error.kind == "not_found" else error from error
    return _inspection_row(row)


def _inspection_row(row: Inspection) -> InspectionRow:
    findings = tuple(
        FindingRow(item.code, item.title, given["state"], given["note"])
        for item in CHECKLIST_ITEMS
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
        worst=find_worst_state([finding.state for finding in findings]),
    )
