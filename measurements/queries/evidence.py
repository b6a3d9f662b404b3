"""The identity-free rows of the current release, for members; row ids are new in every release."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any

from django.db.models import Count, QuerySet

from measurements.disclosure.circles import Viewer, circle
from measurements.disclosure.row_ids import row_id
from measurements.errors import BenchnightError
from measurements.models import EvidenceRow, Release
from measurements.queries import paging
from measurements.queries.rows import EvidenceItem, Page

_Rows = QuerySet[EvidenceRow]
PORTION = 20  # designs read at a time by a stream

_FIGURES = (
    "rejection_worst_db",
    "rejection_centre_db",
    "rejection_best_db",
    "resistance_smallest_ohm",
    "impedance_smallest_ohm",
)
_COLUMNS = (
    "id",
    "sample_id",
    "sample__cell__design__key",
    "sample__month",
    "band",
    "coverage",
    *_FIGURES,
    "sample__self_resonance_hz",
)


def listing(
    viewer: Viewer, *, design: str | None = None, cursor: str | None = None, limit: int = paging.DEFAULT_LIMIT
) -> Page[EvidenceItem]:
    """One page of rows. Raises BenchnightError `evidence.members_only` for the public."""
    size = paging.checked_limit(limit)
    # a cursor counts inside one design, so that it neither shows row keys nor slows down with depth
    position = paging.decode(cursor, design=str, skip=int) or {"design": "", "skip": 0}
    rows = _rows(viewer, design).filter(sample__cell__design__key__gte=position["design"])
    wanted = position["skip"] + size + 1
    touched = list(itertools.islice(_in_order(rows, _designs_of(rows, wanted)), wanted))
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
    rows = _rows(viewer, design)
    return _in_portions(rows, _designs_of(rows, None))


def _in_portions(rows: _Rows, designs: list[str]) -> Iterator[EvidenceItem]:
    for start in range(0, len(designs), PORTION):
        yield from _in_order(rows, designs[start : start + PORTION])


def _designs_of(rows: _Rows, most_rows: int | None) -> list[str]:
    """The designs, by key, that hold the first `most_rows` rows (all where None)."""
    counted = rows.order_by("sample__cell__design__key").values_list("sample__cell__design__key")
    designs: list[str] = []
    so_far = 0
    for key, count in counted.annotate(count=Count("id")).values_list("sample__cell__design__key", "count"):
        if most_rows is not None and so_far >= most_rows:
            break
        designs.append(key)
        so_far += count
    return designs


def _in_order(rows: _Rows, designs: list[str]) -> Iterator[EvidenceItem]:
    """Rows of these designs: by design, then by the ids of this release, which is no order at all.

    An order by stored ids would stay the same from release to release and join rows by their place.
    """
    salt = _salt()
    found = rows.filter(sample__cell__design__key__in=designs).values_list(*_COLUMNS)
    items = [_item(row, salt) for row in found.iterator(chunk_size=2000)]
    yield from sorted(items, key=lambda item: (item.design, item.sample, item.id))


def _rows(viewer: Viewer, design: str | None) -> _Rows:
    if circle(viewer) != "members":
        raise BenchnightError(
            "evidence.members_only",
            "Rows of single devices are for signed-in members. Everybody may read each design's evidence.",
            kind="forbidden",
        )
    rows = EvidenceRow.objects.filter(sample__cell__last_release=None)
    if design:
        rows = rows.filter(sample__cell__design__key=design)
    return rows


def _salt() -> bytes:
    newest = Release.objects.order_by("-number").values_list("salt", flat=True).first()
    return b"" if newest is None else bytes(newest)


def _item(row: tuple[Any, ...], salt: bytes) -> EvidenceItem:
    return EvidenceItem(row_id(salt, row[0].hex), row_id(salt, row[1].hex), *row[2:])
