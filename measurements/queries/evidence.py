"""The identity-free rows of the current release, for members; row ids are new in every release."""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from django.db.models import QuerySet

from measurements.disclosure import released_rows
from measurements.disclosure.circles import Viewer, circle
from measurements.disclosure.portions import portions
from measurements.errors import BenchnightError
from measurements.models import Cell, EvidenceSample, Release
from measurements.queries import paging
from measurements.queries.rows import EvidenceItem, Page

PORTION = 2000  # devices read at a time by a stream


def listing(
    viewer: Viewer, *, design: str | None = None, cursor: str | None = None, limit: int = paging.DEFAULT_LIMIT
) -> Page[EvidenceItem]:
    """One page of rows. Raises BenchnightError `evidence.members_only` for the public."""
    size = paging.checked_limit(limit)
    # a cursor counts inside one design, so that it neither shows row keys nor slows down with depth
    position = paging.decode(cursor, design=str, skip=int) or {"design": "", "skip": 0}
    cells = _cells(viewer, design).filter(design__key__gte=position["design"])
    wanted = position["skip"] + size + 1
    touched = list(itertools.islice(_in_portions(cells, wanted), wanted))
    items = tuple(touched[position["skip"] : position["skip"] + size])
    if len(touched) < wanted:
        return Page(items, None)
    last = items[-1].design
    inside = sum(1 for item in items if item.design == last)
    skip = inside + (position["skip"] if last == position["design"] else 0)
    return Page(items, paging.encode({"design": last, "skip": skip}))


def stream(viewer: Viewer, *, design: str | None = None) -> Iterator[EvidenceItem]:
    """All rows, one portion of designs after another: memory does not grow with their number.

    Raises BenchnightError `evidence.members_only` for the public, before the first row.
    """
    return _in_portions(_cells(viewer, design), PORTION)


def _in_portions(cells: QuerySet[Cell], devices: int) -> Iterator[EvidenceItem]:
    """Rows of these cells, read for so many devices at a time; every device has a row or more."""
    salt = Release.objects.order_by("-number").values_list("salt", flat=True).first() or b""
    for portion in portions(cells.values_list("id", "devices").iterator(), devices):
        samples = EvidenceSample.objects.filter(cell__in=portion).values_list(*released_rows.STORED)
        for row in released_rows.in_order(bytes(salt), samples.iterator()):
            yield EvidenceItem(*row)


def _cells(viewer: Viewer, design: str | None) -> QuerySet[Cell]:
    """The cells of the current release, by design."""
    if circle(viewer) != "members":
        raise BenchnightError(
            "evidence.members_only",
            "Rows of single devices are for signed-in members. Everybody may read each design's evidence.",
            kind="forbidden",
        )
    cells = Cell.objects.filter(last_release=None).order_by("design__key")
    return cells.filter(design__key=design) if design else cells
