"""How far imports of bundles have come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import BundleImport


@dataclass(frozen=True)
class BundleImportRow:
    """An import. state: queued, running, done. applied: whether it was done, not only shown.

    lines: a line for each row that is not as it was; unlisted: how many more. refused: why nothing was taken.
    """

    key: str
    made_at: datetime
    state: str
    applied: bool
    new: int
    changed: int
    unchanged: int
    conflicts: int
    lines: tuple[str, ...]
    unlisted: int
    refused: str | None


def get_bundle_import(viewer: Viewer, key: str) -> BundleImportRow:
    """Return an import to who sent it and to stewards. Raises BenchnightError `bundle.not_found` else."""
    policy.check_operator(viewer)
    found = BundleImport.objects.defer("raw").filter(key=key).first()
    if found is None or not (viewer.is_steward or found.made_by_id == viewer.member_id):
        raise BenchnightError("bundle.not_found", "There is no such import of yours.", kind="not_found")
    shown = found.outcome
    return BundleImportRow(
        key=found.key,
        made_at=found.made_at,
        state=found.state,
        applied=found.apply and bool(shown),
        new=shown.get("new", 0),
        changed=shown.get("changed", 0),
        unchanged=shown.get("unchanged", 0),
        conflicts=shown.get("conflicts", 0),
        lines=tuple(shown.get("lines", ())),
        unlisted=shown.get("unlisted", 0),
        refused=found.refusal or None,
    )
