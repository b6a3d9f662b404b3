"""The numbered releases of the evidence."""

from __future__ import annotations

from measurements.errors import BenchnightError
from measurements.models import Release
from measurements.queries import paging
from measurements.queries.rows import Page, ReleaseRow


def current() -> ReleaseRow | None:
    """The newest release, None before the first."""
    release = Release.objects.order_by("-number").first()
    return None if release is None else _row(release)


def one(number: int) -> ReleaseRow:
    """A release by its number. Raises BenchnightError `release.not_found`."""
    release = Release.objects.filter(number=number).first()
    if release is None:
        raise BenchnightError("release.not_found", "There is no release of this number.", kind="not_found")
    return _row(release)


def listing(cursor: str | None = None, limit: int = paging.DEFAULT_LIMIT) -> Page[ReleaseRow]:
    """Releases, the newest first."""
    size = paging.checked_limit(limit)
    position = paging.decode(cursor, before=int)
    rows = Release.objects.order_by("-number")
    if position is not None:
        rows = rows.filter(number__lt=position["before"])
    found = [_row(release) for release in rows[: size + 1]]
    more = len(found) > size
    return Page(tuple(found[:size]), paging.encode({"before": found[size - 1].number}) if more else None)


def _row(release: Release) -> ReleaseRow:
    return ReleaseRow(
        number=release.number,
        made_at=release.made_at,
        engine_version=release.engine_version,
        region=release.region,
        thresholds=release.thresholds,
        counts=release.counts,
        content_sha256=release.content_sha256,
    )
