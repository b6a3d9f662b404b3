"""The designs that a member watches, and how their published verdicts changed from release to release.

Verdicts are read from the files that each release published for the member's circle, so a change is one that
everybody of this circle can see.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Cell, Design, Release, WatchedDesign
from measurements.selectors.releases import release_files

NEWEST_CHANGES = 10  # releases of one design that are compared with the one before
NO_VERDICT = "no verdict"

Verdicts = Mapping[tuple[str, str], str]  # (band, kind) -> verdict


@dataclass(frozen=True)
class VerdictChange:
    """A watched design whose verdicts a release changed. bands: (band, kind, before, now) of each."""

    design: str
    title: str
    release: int
    made_at: datetime
    bands: tuple[tuple[str, str, str, str], ...]


@dataclass(frozen=True)
class WatchedRow:
    """A watched design."""

    key: str
    title: str
    watched_at: datetime


def list_watched_designs(viewer: Viewer) -> tuple[WatchedRow, ...]:
    """Return the designs that the viewer watches, the newest first."""
    policy.check_signed_in(viewer)
    rows = WatchedDesign.objects.filter(member=viewer.member_id).select_related("design").order_by("-pk")
    return tuple(WatchedRow(row.design.key, row.design.title, row.watched_at) for row in rows)


def is_watched(viewer: Viewer, design: str) -> bool:
    """Say whether the viewer watches a design; nobody who is not signed in does."""
    if not viewer.signed_in:
        return False
    return WatchedDesign.objects.filter(member=viewer.member_id, design__key=design).exists()


def list_verdict_changes(viewer: Viewer) -> tuple[VerdictChange, ...]:
    """Return what changed of the watched designs since they are watched, the newest release first."""
    policy.check_signed_in(viewer)
    watched = WatchedDesign.objects.filter(member=viewer.member_id).select_related("design")
    found = [
        change
        for row in watched
        for number in _list_releases_of_change(row)
        if (change := _compare_with_before(viewer, row.design, number)) is not None
    ]
    return tuple(sorted(found, key=lambda change: -change.release))


def _list_releases_of_change(row: WatchedDesign) -> list[int]:
    """List the releases after `since` that replaced, added or took away a cell of the design."""
    spans = Cell.objects.filter(design=row.design).values_list("first_release", "last_release")
    begun = {first for first, _ in spans}
    ended = {last + 1 for _, last in spans if last is not None}
    return sorted((number for number in begun | ended if number > row.since), reverse=True)[:NEWEST_CHANGES]


def _compare_with_before(viewer: Viewer, design: Design, number: int) -> VerdictChange | None:
    """Compare a release with the one before it; None where no verdict differs, or one has no files."""
    made_at = Release.objects.filter(number=number).values_list("made_at", flat=True).first()
    before, now = (read_published_verdicts(viewer, design.key, each) for each in (number - 1, number))
    if made_at is None or before is None or now is None:
        return None
    bands = tuple(
        (band, kind, before.get((band, kind), NO_VERDICT), now.get((band, kind), NO_VERDICT))
        for band, kind in dict.fromkeys([*now, *before])
        if before.get((band, kind), NO_VERDICT) != now.get((band, kind), NO_VERDICT)
    )
    return VerdictChange(design.key, design.title, number, made_at, bands) if bands else None


def read_published_verdicts(viewer: Viewer, design: str, number: int) -> Verdicts | None:
    """Read the verdicts of a design as a release published them for this circle, at the house's limits.

    Empty where it has none, None where nobody can tell.
    """
    name = f"{release_files.DESIGN_FILE_PREFIX}{design}.csv"
    try:
        _, content = release_files.get_file_content(viewer, number, name)
    except BenchnightError as error:
        return {} if error.code == "release.file_not_found" else None
    rows = csv.DictReader(io.StringIO(content.decode(), newline=""))
    return {(row["band"], row.get("kind", "")): row["verdict"] or NO_VERDICT for row in rows}
