"""The numbered releases of the evidence."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q

from measurements.disclosure.evidence_records import format_quarter
from measurements.disclosure.viewers import ANONYMOUS, Viewer, get_circle
from measurements.errors import BenchnightError
from measurements.models import Cell, Release
from measurements.models.read_once import read_catalogue
from measurements.selectors import paging
from measurements.selectors.paging import Page


@dataclass(frozen=True)
class ReleaseRow:
    """A numbered release of the evidence."""

    number: int
    made_at: datetime
    quarter: str
    engine_version: str
    region: int
    thresholds: dict[str, Any]
    counts: dict[str, Any]
    content_sha256: str


@read_catalogue
def get_current_release() -> ReleaseRow | None:
    """Return the newest release, None before the first."""
    release = Release.objects.order_by("-number").first()
    return None if release is None else _release_row(release)


def get_release(number: int, viewer: Viewer = ANONYMOUS) -> ReleaseRow:
    """Return a release by its number. Raises BenchnightError `release.not_found`."""
    release = Release.objects.filter(number=number).first()
    if release is None:
        raise BenchnightError("release.not_found", "There is no release of this number.", kind="not_found")
    return _release_row(release, viewer)


def list_releases(
    cursor: str | None = None, limit: int = paging.DEFAULT_LIMIT, viewer: Viewer = ANONYMOUS
) -> Page[ReleaseRow]:
    """Release, the newest first."""
    size = paging.check_limit(limit)
    position = paging.decode_cursor(cursor, before=int)
    rows = whole = Release.objects.order_by("-number")
    if position is not None:
        rows = rows.filter(number__lt=position["before"])
    found = [_release_row(release, viewer) for release in rows[: size + 1]]
    more = len(found) > size
    following = paging.encode_cursor({"before": found[size - 1].number}) if more else None
    return Page(tuple(found[:size]), following, whole.count)


def _get_counts(release: Release, viewer: Viewer) -> dict[str, Any]:
    """Count the contents of a release; for the public only the designs that it may see."""
    if get_circle(viewer) == "members":
        return release.counts
    held = Q(last_release=None) | Q(last_release__gte=release.number)
    cells = Cell.objects.filter(held, first_release__lte=release.number)
    seen = cells.filter(contributors__gte=release.thresholds["public_min_contributors"])
    return {"designs": seen.values("design").distinct().count()}


def _release_row(release: Release, viewer: Viewer = ANONYMOUS) -> ReleaseRow:
    return ReleaseRow(
        number=release.number,
        made_at=release.made_at,
        quarter=format_quarter(release.made_at.date()),
        engine_version=release.engine_version,
        region=release.region,
        thresholds=release.thresholds,
        counts=_get_counts(release, viewer),
        content_sha256=release.content_sha256,
    )
