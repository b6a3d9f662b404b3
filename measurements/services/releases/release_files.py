"""Makes and keeps the files of a release.

They are made in the release's own transaction, so that a release that is there has its files. They never
change; but where somebody withdraws, the next release takes the tables out of every older release that
holds evidence of theirs, because what is withdrawn is not handed out any more, under no number.
"""

from __future__ import annotations

import gzip
import hashlib
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from typing import Any

import numpy as np
from django.db import transaction

from measurements.disclosure import evidence_view, release_format, release_rows, table_text
from measurements.disclosure.release_rows import split_into_portions
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.viewers import Circle
from measurements.models import (
    Cell,
    EvidenceSample,
    Release,
    ReleaseFile,
    ReleaseFilePart,
    group_settings,
)
from measurements.services.reference import benchmarks
from measurements.services.releases import usual_spreads
from measurements.services.releases.evidence_rows import PERSON_DTYPE
from measurements.verdict import band_verdict

# One file per design of a release, for whoever studies one design and not all: the rows that the whole
# tables hold of it, to members by device and band, to the public its aggregates.

DESIGN_FILE_PREFIX = "design-"  # the whole table of the public is called `designs-...`

DESIGN_FILE_TYPE = "text/csv"

_DESIGN_FILE_LEVEL = 1

_Rows = Iterable[Sequence[Any]]


def store_member_design_files(release: Release, rows: _Rows) -> list[dict[str, object]]:
    """Store the file of each design in `rows` (all of its rows, in order); answers the manifest's lines."""
    return _store_design_files(release, "members", release_format.EVIDENCE_COLUMNS, rows)


def store_public_design_files(release: Release, rows: _Rows) -> list[dict[str, object]]:
    """Return the same for the public's rows."""
    return _store_design_files(release, "public", release_format.PUBLIC_COLUMNS, rows)


def _store_design_files(
    release: Release, circle: Circle, columns: tuple[release_format.Column, ...], rows: _Rows
) -> list[dict[str, object]]:
    names = release_format.list_column_names(columns)
    contents = list(_group_by_design(rows, names))
    files = ReleaseFile.objects.bulk_create(
        ReleaseFile(
            release=release,
            name=f"{DESIGN_FILE_PREFIX}{design}.csv",
            circle=circle,
            media_type=DESIGN_FILE_TYPE,
            size=len(content),
            sha256=hashlib.sha256(content).hexdigest(),
        )
        for design, content in contents
    )
    ReleaseFilePart.objects.bulk_create(
        ReleaseFilePart(file=file, number=0, content=gzip.compress(content, _DESIGN_FILE_LEVEL, mtime=0))
        for file, (_, content) in zip(files, contents, strict=True)
    )
    listed = ("name", "circle", "media_type", "size", "sha256")
    return [{name: getattr(file, name) for name in listed} for file in files]


def _group_by_design(rows: _Rows, names: Sequence[str]) -> Iterator[tuple[str, bytes]]:
    place = names.index("design")
    for design, own in groupby(rows, key=lambda row: row[place]):
        yield design, "".join(table_text.format_csv_table(own, names)).encode()


# Writes a release's file piece by piece, so that making one needs no memory for all of it.

PART_BYTES = 1 << 20

# level 1: a third of the time of the usual 6 for a tenth more bytes
_PART_LEVEL = 1


class ReleaseFileWriter:
    """One file being written: `write` lines, then `finish`. Use it inside the release's transaction."""

    def __init__(self, release: Release, name: str, circle: Circle, media_type: str) -> None:
        # size and hash are known at the end
        self._file = ReleaseFile.objects.create(
            release=release, name=name, circle=circle, media_type=media_type, size=0, sha256=""
        )
        self._hash = hashlib.sha256()
        self._size = 0
        self._parts = 0
        self._held: list[bytes] = []
        self._holding = 0

    def write(self, lines: Iterable[str]) -> None:
        """Add these lines (each with its own line end)."""
        piece = "".join(lines).encode()
        self._held.append(piece)
        self._holding += len(piece)
        if self._holding >= PART_BYTES:
            self._put_away()

    def finish(self) -> dict[str, object]:
        """Store what is left and answer how the manifest lists the file."""
        self._put_away()
        listed = {"size": self._size, "sha256": self._hash.hexdigest()}
        ReleaseFile.objects.filter(pk=self._file.pk).update(**listed)
        about = {"name": self._file.name, "circle": self._file.circle, "media_type": self._file.media_type}
        return {**about, **listed}

    def _put_away(self) -> None:
        whole = b"".join(self._held)
        self._held, self._holding = [], 0
        if not whole:
            return
        self._hash.update(whole)
        self._size += len(whole)
        packed = gzip.compress(whole, _PART_LEVEL, mtime=0)
        ReleaseFilePart.objects.create(file=self._file, number=self._parts, content=packed)
        self._parts += 1


# The rows of a release's files: identity-free ones for members, coarse aggregates for the public.
#
# Cells are read some designs at a time. Whose votes stand behind a cell is not read here.

_STORED = np.dtype("<f4")

PORTION = 2000  # devices read at a time


def list_evidence_rows(salt: bytes) -> Iterator[list[tuple[Any, ...]]]:
    """Yield rows of the open cells, some designs at a time, in the columns of `release_columns.EVIDENCE`.

    The order is that of `evidence/`.
    """
    cells = (
        Cell.objects.filter(last_release=None).order_by("design__key", "band").values_list("id", "devices")
    )
    for portion in split_into_portions(list(cells), PORTION):
        samples = EvidenceSample.objects.filter(cell__in=portion)
        yield release_rows.build_release_rows(salt, samples.values_list(*release_rows.SAMPLE_COLUMNS))


def list_public_rows(
    benchmark_db: float, limits: Thresholds, usual_spread: float | None = None
) -> Iterator[tuple[Any, ...]]:
    """Yield aggregates of the open cells in the columns of `release_columns.PUBLIC`.

    One row per design and band that the public sees; what is under its threshold is not there at all.
    """
    cells = Cell.objects.filter(last_release=None).order_by("design__key", "band")
    columns = ("design__key", "design__title", "contributors", "bands", "worst_db", "persons", "one_jig")
    for key, title, people, bands, stored, persons, one_jig in cells.values_list(*columns).iterator():
        if people < limits.public_min_contributors:
            continue
        # rounded as published: a stored float32 is a hair off the figure it stands for
        worst_db = np.frombuffer(bytes(stored), _STORED).reshape(-1, len(bands)).astype(np.float64).round(2)
        labels = np.frombuffer(bytes(persons), PERSON_DTYPE).tolist()
        for index, band in enumerate(bands):
            verdict = band_verdict.judge_design(
                worst_db[:, index],
                benchmark_db,
                labels or people,
                limits.public_min_contributors,
                limits.votes_per_contributor,
                usual_spread=usual_spread,
                one_jig=one_jig,
            )
            shown = evidence_view.build_evidence_view(
                verdict, band=band, benchmark_db=benchmark_db, circle="public", thresholds=limits
            )
            if shown["verdict"] != evidence_view.NOT_ENOUGH:
                yield key, title, *_flatten_row(shown)


def _flatten_row(shown: dict[str, Any]) -> tuple[Any, ...]:
    figures = shown["rejection_db"]
    named = ("band", "benchmark_db", "chance", "verdict", "devices", "contributors")
    return (*(shown[name] for name in named), figures["median"], figures["tolerance_low"])


CSV, NDJSON, JSON, TEXT = "text/csv", "application/x-ndjson", "application/json", "text/plain"

# what holds figures; the rest only says what they mean
TABLES = ("evidence.csv", "evidence.ndjson", "designs-public.csv")

MANIFEST = "manifest.json"

FileListing = dict[str, object]  # a file as the manifest lists it


def store_release_files(release: Release) -> None:
    """Make the files of the newest release. Call inside the transaction that makes it."""
    listed = [*_store_tables(release), *_store_papers(release)]
    made_at = release.made_at.isoformat(timespec="seconds")
    for circle in ("public", "members"):
        # the manifest of the public names the public's files only: see `release_papers`
        own = [each for each in listed if circle == "members" or each["circle"] == "public"]
        # of a name that both circles have, each is given its own
        named = {each["name"]: each for each in sorted(own, key=lambda each: each["circle"] == circle)}
        lines = [each for each in own if named[each["name"]] is each]
        _store_file(
            release, MANIFEST, circle, JSON, release_format.build_manifest(release.number, made_at, lines)
        )


def store_missing_release_files() -> int | None:
    """Make the files of the newest release where it has none (made before there were files).

    Answers its number, None where there was nothing to do.
    """
    with transaction.atomic():
        newest = Release.objects.order_by("-number").first()
        if newest is None or newest.files.exists():
            return None
        store_release_files(newest)
    return newest.number


def _store_tables(release: Release) -> Iterable[FileListing]:
    """Yield the rows of members in both forms, in one pass; the aggregates of the public."""
    columns = release_format.list_column_names(release_format.EVIDENCE_COLUMNS)
    as_csv = ReleaseFileWriter(release, "evidence.csv", "members", CSV)
    as_ndjson = ReleaseFileWriter(release, "evidence.ndjson", "members", NDJSON)
    as_csv.write(table_text.format_csv_table((), columns))
    of_designs: list[FileListing] = []
    for rows in list_evidence_rows(bytes(release.salt)):
        as_csv.write(table_text.format_csv_rows(rows))
        as_ndjson.write(table_text.format_ndjson_lines(dict(zip(columns, row, strict=True)) for row in rows))
        of_designs += store_member_design_files(release, rows)
    yield as_csv.finish()
    yield as_ndjson.finish()
    benchmark_db = benchmarks.get_current_limits().benchmark_db
    spread = release.usual_spreads.get(usual_spreads.KIND, {}).get("spread")
    public = list(list_public_rows(benchmark_db, _get_thresholds(release), spread))
    columns = release_format.list_column_names(release_format.PUBLIC_COLUMNS)
    yield _store_file(
        release, "designs-public.csv", "public", CSV, *table_text.format_csv_table(public, columns)
    )
    yield from (*of_designs, *store_public_design_files(release, public))


def _store_papers(release: Release) -> Iterable[FileListing]:
    dictionary = release_format.build_data_dictionary(
        release.number, release.engine_version, release.region, _get_thresholds(release)
    )
    yield _store_file(release, "dictionary.json", "public", JSON, dictionary)
    yield _store_file(
        release,
        "LICENCE.txt",
        "public",
        TEXT,
        release_format.build_licence_note(*group_settings.get_data_terms()),
    )


def _store_file(release: Release, name: str, circle: Circle, media_type: str, *lines: str) -> FileListing:
    writing = ReleaseFileWriter(release, name, circle, media_type)
    writing.write(lines)
    return writing.finish()


def _get_thresholds(release: Release) -> Thresholds:
    """Return the thresholds that the release was made under, whatever they are by now."""
    stated = {
        name: value for name, value in release.thresholds.items() if name != "min_changes"
    }  # the older rule
    return Thresholds(**stated)
