"""A member's own analysers; nobody else sees them, a steward neither."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.models import DescribedAnalyser


@dataclass(frozen=True)
class AnalyserRow:
    """stated: as described. measured: bounds of check sweeps, {} before any.

    description: what budgets take.
    """

    key: str
    name: str
    calibration: str
    stated: dict[str, Any]
    measured: dict[str, Any]
    description: dict[str, Any]
    checked_on: date | None


def list_analysers(viewer: Viewer) -> tuple[AnalyserRow, ...]:
    """Return the viewer's own, by name; none for whoever is not signed in."""
    if viewer.member_id is None:
        return ()
    rows = DescribedAnalyser.objects.filter(member_id=viewer.member_id).order_by("name")
    return tuple(_build_row(row) for row in rows)


def get_analyser(viewer: Viewer, key: str) -> AnalyserRow:
    """Return one of the viewer's own. Raises BenchnightError `analyser.not_found`."""
    for row in list_analysers(viewer):
        if row.key == key:
            return row
    raise policy.build_not_found("analyser")


def _build_row(row: DescribedAnalyser) -> AnalyserRow:
    return AnalyserRow(
        key=row.key,
        name=row.name,
        calibration=row.calibration,
        stated=row.stated,
        measured=row.measured,
        description=row.description,
        checked_on=row.checked_on,
    )
