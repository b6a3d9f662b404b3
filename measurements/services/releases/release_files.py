"""Makes and keeps the files of a release.

They are made in the release's own transaction, so that a release that is there has its files, and they never
change. Both circles have the same files by name, each with what it may see.
"""

from __future__ import annotations

import gzip
import hashlib
from collections.abc import Iterable, Sequence
from typing import Any

from django.db import transaction

from measurements.disclosure import data_package, release_format, table_text
from measurements.disclosure.data_package import ReleaseAbout
from measurements.disclosure.evidence_records import find_value, format_quarter
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.viewers import Circle
from measurements.models import Allocation, Release, ReleaseFile, ReleaseFilePart, group_facts
from measurements.services.releases import evidence_tables
from measurements.services.releases.evidence_tables import CIRCLES, Records

FileListing = dict[str, object]  # a file as the manifest lists it

CSV, NDJSON, JSON, TEXT = "text/csv", "application/x-ndjson", "application/json", "text/plain"

# what holds figures; the rest only says what they mean
TABLES = ("evidence.csv", "evidence.ndjson")

MANIFEST = "manifest.json"

COLUMN_NAMES = release_format.list_column_names(release_format.EVIDENCE_COLUMNS)

# One file per design of a release, for whoever studies one design and not all: the rows that the whole table
# holds of it.

DESIGN_FILE_PREFIX = "design-"

_DESIGN_FILE_LEVEL = 1

_BATCH = 200  # designs whose files are stored at a time


def _store_design_files(
    release: Release, circle: Circle, designs: Sequence[tuple[str, Records]]
) -> list[FileListing]:
    contents = [
        (design, "".join(table_text.format_csv_table(_list_values(records), COLUMN_NAMES)).encode())
        for design, records in designs
    ]
    files = ReleaseFile.objects.bulk_create(
        ReleaseFile(
            release=release,
            name=f"{DESIGN_FILE_PREFIX}{design}.csv",
            circle=circle,
            media_type=CSV,
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


def _list_values(records: Records) -> Iterable[list[Any]]:
    return ([find_value(record, name) for name in COLUMN_NAMES] for record in records)


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


class _CircleTables:
    """The tables of one circle while they are written; design files are stored some at a time."""

    def __init__(self, release: Release, circle: Circle) -> None:
        self._release, self._circle = release, circle
        self._csv = ReleaseFileWriter(release, "evidence.csv", circle, CSV)
        self._ndjson = ReleaseFileWriter(release, "evidence.ndjson", circle, NDJSON)
        self._csv.write(table_text.format_csv_table((), COLUMN_NAMES))
        self._waiting: list[tuple[str, Records]] = []
        self._listed: list[FileListing] = []

    def add(self, design: str, records: Records) -> None:
        """Write the rows of one design; nothing where the circle sees none."""
        if not records:
            return
        self._csv.write(table_text.format_csv_rows(_list_values(records)))
        self._ndjson.write(table_text.format_ndjson_lines(records))
        self._waiting.append((design, records))
        if len(self._waiting) >= _BATCH:
            self._put_away()

    def finish(self) -> list[FileListing]:
        """Finish every file and list them."""
        self._put_away()
        return [self._csv.finish(), self._ndjson.finish(), *self._listed]

    def _put_away(self) -> None:
        self._listed += _store_design_files(self._release, self._circle, self._waiting)
        self._waiting = []


def store_release_files(release: Release) -> None:
    """Make the files of the newest release. Call inside the transaction that makes it."""
    tables = list(_store_tables(release))
    listed = [*tables, *_store_papers(release), *_store_packages(release, tables)]
    made_at = _format_made_at(release)
    for circle in CIRCLES:
        # the manifest of the public names the public's files only: see `release_format`
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
    """Store the tables of both circles in one pass over the cells."""
    tables = {circle: _CircleTables(release, circle) for circle in CIRCLES}
    for design, records in evidence_tables.list_records_by_design(release, _get_thresholds(release)):
        for circle in CIRCLES:
            tables[circle].add(design, records[circle])
    return [each for circle in CIRCLES for each in tables[circle].finish()]


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
        release_format.build_licence_note(*group_facts.get_data_terms()),
    )


def _store_packages(release: Release, tables: Sequence[FileListing]) -> Iterable[FileListing]:
    """Store the data package of each circle, and the citation, which is for everybody."""
    about, limits = _describe_release(release), _get_thresholds(release)
    for circle in CIRCLES:
        package = data_package.build_data_package(about, circle, tables, limits)
        yield _store_file(release, data_package.PACKAGE, circle, JSON, package)
    yield _store_file(release, data_package.CITATION, "public", TEXT, data_package.build_citation(about))


def _describe_release(release: Release) -> ReleaseAbout:
    plan = Allocation.objects.filter(region=release.region).order_by("source")
    group_name, terms = group_facts.get_data_terms()
    return ReleaseAbout(
        number=release.number,
        made_at=_format_made_at(release),
        quarter=format_quarter(release.made_at.date()),
        engine_version=release.engine_version,
        region=release.region,
        content_sha256=release.content_sha256,
        group_name=group_name,
        terms=terms,
        sources=tuple(plan.values_list("source", flat=True).distinct()),
    )


def _format_made_at(release: Release) -> str:
    return release.made_at.isoformat(timespec="seconds").replace("+00:00", "Z")


def _store_file(release: Release, name: str, circle: Circle, media_type: str, *lines: str) -> FileListing:
    writing = ReleaseFileWriter(release, name, circle, media_type)
    writing.write(lines)
    return writing.finish()


def _get_thresholds(release: Release) -> Thresholds:
    """Return the thresholds that the release was made under, whatever they are by now."""
    known = Thresholds.__dataclass_fields__  # an older rule had others
    return Thresholds(**{name: value for name, value in release.thresholds.items() if name in known})
