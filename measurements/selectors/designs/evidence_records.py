"""The evidence of the current release as one table: a row per design, band and kind, as its reader sees it.

Members and the public get the same columns from one place, and the files of a release have them too
(`disclosure.evidence_records`).
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any

from measurements.disclosure import evidence_view
from measurements.disclosure.evidence_records import (
    PublishedDesign,
    PublishedIn,
    build_evidence_record,
    format_quarter,
)
from measurements.disclosure.viewers import Viewer
from measurements.models import Design, Release, read_once
from measurements.selectors import paging
from measurements.selectors.designs import designs
from measurements.selectors.designs.rows import DesignRow
from measurements.selectors.evidence import evidence_table
from measurements.selectors.paging import Page
from measurements.verdict.judged_kinds import EVIDENCE_KINDS

Record = dict[str, Any]

PORTION = 100  # designs read at a time


def list_evidence_records(
    viewer: Viewer,
    *,
    design: str | None = None,
    kind: str | None = None,
    cursor: str | None = None,
    limit: int = paging.DEFAULT_LIMIT,
) -> Page[Record]:
    """Return one page of rows. kind: that one alone. Raises BenchnightError `design.not_found`."""
    size = paging.check_limit(limit)
    # a cursor counts inside one design, so that it does not slow down with depth
    position = paging.decode_cursor(cursor, design=str, skip=int) or {"design": "", "skip": 0}
    rows = _iterate_records(viewer, _list_keys(design, first=position["design"]), kind)
    found = list(itertools.islice(rows, position["skip"], position["skip"] + size + 1))

    def count() -> int:
        if cursor is None:
            return len(found) + sum(1 for _ in rows)
        return sum(1 for _ in _iterate_records(viewer, _list_keys(design), kind))

    if len(found) <= size:
        return Page(tuple(found), None, count)
    last = found[size - 1]["design"]
    inside = sum(1 for row in found[:size] if row["design"] == last)
    skip = inside + (position["skip"] if last == position["design"] else 0)
    return Page(tuple(found[:size]), paging.encode_cursor({"design": last, "skip": skip}), count)


def stream_evidence_records(
    viewer: Viewer, *, design: str | None = None, kind: str | None = None
) -> Iterator[Record]:
    """Return all rows, some designs at a time. Raises as `list_evidence_records`, before the first row."""
    return _iterate_records(viewer, _list_keys(design), kind)


def _list_keys(design: str | None, first: str = "") -> list[str]:
    """List the keys of designs with evidence, in their order, from `first` on; of `design` alone if given."""
    tables = evidence_table.get_evidence_tables().values()
    known = sorted({key for table in tables for key in table.design_keys})
    if design is not None:
        known = [designs.get_reached_key(design)]
    else:
        standing = set(Design.objects.standing().values_list("key", flat=True))
        known = [key for key in known if key in standing]
    return [key for key in known if key >= first]


def _iterate_records(viewer: Viewer, keys: list[str], kind: str | None) -> Iterator[Record]:
    """Yield the rows of each design by kind and band. kind: that one alone."""
    newest = Release.objects.order_by("-number").first()
    if newest is None:
        return
    published_in = PublishedIn(newest.number, format_quarter(newest.made_at.date()))
    kinds = EVIDENCE_KINDS if kind is None else (kind,)
    ranked = len(keys) > 1
    for start in range(0, len(keys), PORTION):
        some = keys[start : start + PORTION]
        # the kinds ask for the same bands, limits and release
        with read_once.remember_reads():
            of_kind = [designs.list_designs_by_key(viewer, some, kind=each, ranked=ranked) for each in kinds]
        for rows in zip(*of_kind, strict=True):
            for row in rows:
                yield from _build_records(row, published_in)


def _build_records(row: DesignRow, published_in: PublishedIn) -> Iterator[Record]:
    design = PublishedDesign(row.key, row.title, row.recipe)
    for view in row.evidence:
        if view["verdict"] != evidence_view.NOT_ENOUGH:
            yield build_evidence_record(design, published_in, view)
