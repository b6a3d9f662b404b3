"""One file per design of a release, for whoever studies one design and not all: the rows that the whole
tables hold of it, to members by device and band, to the public its aggregates.
"""

from __future__ import annotations

import gzip
import hashlib
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Any

from measurements.disclosure import release_columns, table_cells
from measurements.disclosure.circles import Circle
from measurements.models import Release, ReleaseFile, ReleaseFilePart

BEGINS = "design-"  # the whole table of the public is called `designs-...`
CSV = "text/csv"
_LEVEL = 1
_Rows = Iterable[Sequence[Any]]


def of_members(release: Release, rows: _Rows) -> list[dict[str, object]]:
    """Stores the file of each design in `rows` (all of its rows, in order); answers the manifest's lines."""
    return _store(release, "members", release_columns.EVIDENCE, rows)


def of_the_public(release: Release, rows: _Rows) -> list[dict[str, object]]:
    """The same for the public's rows."""
    return _store(release, "public", release_columns.PUBLIC, rows)


def _store(
    release: Release, circle: Circle, columns: tuple[release_columns.Column, ...], rows: _Rows
) -> list[dict[str, object]]:
    names = release_columns.names(columns)
    contents = list(_by_design(rows, names))
    files = ReleaseFile.objects.bulk_create(
        ReleaseFile(
            release=release,
            name=f"{BEGINS}{design}.csv",
            circle=circle,
            media_type=CSV,
            size=len(content),
            sha256=hashlib.sha256(content).hexdigest(),
        )
        for design, content in contents
    )
    ReleaseFilePart.objects.bulk_create(
        ReleaseFilePart(file=file, number=0, content=gzip.compress(content, _LEVEL, mtime=0))
        for file, (_, content) in zip(files, contents, strict=True)
    )
    listed = ("name", "circle", "media_type", "size", "sha256")
    return [{name: getattr(file, name) for name in listed} for file in files]


def _by_design(rows: _Rows, names: Sequence[str]) -> Iterator[tuple[str, bytes]]:
    place = names.index("design")
    for design, own in groupby(rows, key=lambda row: row[place]):
        yield design, "".join(table_cells.csv_lines(own, names)).encode()
