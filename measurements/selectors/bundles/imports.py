"""How far imports of bundles have come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models.functions import Length

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import BundleImport

MOST_LISTED = 20


@dataclass(frozen=True)
class BundleImportRow:
    """An import. state: queued, running, done. applied: whether it was done, not only shown.

    lines: a line for each row that is not as it was; unlisted: how many more. refused: why nothing was taken.
    clashes: see `Outcome`. may_apply: it was only shown, its bytes are here, and the viewer sent it.
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
    clashes: tuple[dict[str, Any], ...] = ()
    may_apply: bool = False


def get_bundle_import(viewer: Viewer, key: str) -> BundleImportRow:
    """Return an import to who sent it and to stewards. Raises BenchnightError `bundle.not_found` else."""
    policy.check_operator(viewer)
    rows = BundleImport.objects.defer("raw").annotate(kept_bytes=Length("raw"))
    found = rows.filter(key=key).first()
    if found is None or not (viewer.is_steward or found.made_by_id == viewer.member_id):
        raise BenchnightError("bundle.not_found", "There is no such import of yours.", kind="not_found")
    return _build_row(found, viewer)


def list_bundle_imports(viewer: Viewer) -> tuple[BundleImportRow, ...]:
    """Return the viewer's own imports, the newest first, at most `MOST_LISTED`."""
    policy.check_operator(viewer)
    rows = BundleImport.objects.defer("raw").annotate(kept_bytes=Length("raw"))
    own = rows.filter(made_by=viewer.member_id).order_by("-pk")[:MOST_LISTED]
    return tuple(_build_row(each, viewer) for each in own)


def _build_row(found: Any, viewer: Viewer) -> BundleImportRow:
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
        clashes=tuple(shown.get("clashes", ())),
        may_apply=bool(
            not found.apply and shown and found.kept_bytes and found.made_by_id == viewer.member_id
        ),
    )
