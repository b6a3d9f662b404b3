"""What the public sees of the evidence as a whole: one rounded object per band of each design."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from api import tables
from api.serializers.evidence import BandEvidence
from measurements.disclosure.circles import ANONYMOUS
from measurements.queries import designs
from measurements.queries.paging import MOST
from measurements.queries.rows import DesignRow, Page

COLUMNS = ("design", "title", *tables.columns(BandEvidence()))


def listing(*, design: str | None, cursor: str | None, limit: int) -> Page[dict[str, Any]]:
    """A page of designs, by title. Raises BenchnightError `design.not_found`."""
    if design is not None:
        return Page((_row(designs.one(ANONYMOUS, design)),), None)
    page = designs.listing(ANONYMOUS, order="title", cursor=cursor, limit=limit)
    return Page(tuple(_row(row) for row in page.results), page.next_cursor)


def rows(*, design: str | None) -> Iterator[dict[str, Any]]:
    """All designs, page by page. Raises before the first row, as `listing`."""
    return _following(listing(design=design, cursor=None, limit=MOST))


def flat(aggregates: Iterable[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    """A row per design and band, for a table."""
    for each in aggregates:
        for band in each["bands"]:
            yield {"design": each["design"], "title": each["title"], **band}


def _following(page: Page[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    yield from page.results
    while page.next_cursor is not None:
        page = listing(design=None, cursor=page.next_cursor, limit=MOST)
        yield from page.results


def _row(design: DesignRow) -> dict[str, Any]:
    return {"design": design.key, "title": design.title, "bands": list(design.evidence)}
