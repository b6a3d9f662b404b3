"""Reads a backup: what it says it holds, whether it does, and its rows."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zipfile import BadZipFile, ZipFile

from measurements.errors import BenchnightError
from measurements.ingest.table_rows import Tally

FORMAT = 1
MANIFEST = "manifest.json"


@dataclass(frozen=True)
class Kept:
    """A table as a backup holds it."""

    table: str
    columns: tuple[str, ...]
    rows: int
    sha256: str


@dataclass(frozen=True)
class Contents:
    """What a backup's manifest says."""

    made_at: str
    engine_version: str
    tables: tuple[Kept, ...]


def verified(file: Path) -> Contents:
    """The contents of a backup of which every table has been read, counted and hashed.

    Raises BenchnightError `backup.damaged` naming the table, `backup.not_one` for any other file.
    """
    contents = manifest(file)
    for kept in contents.tables:
        tally = Tally()
        for line in _lines(file, kept.table):
            tally.take(line)
        if (tally.rows, tally.sha256) != (kept.rows, kept.sha256):
            raise _damaged(kept.table)
    return contents


def manifest(file: Path) -> Contents:
    """What a backup says it holds. Raises BenchnightError `backup.not_one`, `backup.format`."""
    try:
        with ZipFile(file) as archive:
            given = json.loads(archive.read(MANIFEST))
        if given["format"] != FORMAT:
            raise BenchnightError(
                "backup.format",
                f"This backup is of form {given['format']}; this version reads form {FORMAT}. Restore it "
                "with the version that made it.",
            )
        tables = tuple(
            Kept(each["table"], tuple(each["columns"]), int(each["rows"]), each["sha256"])
            for each in given["tables"]
        )
        return Contents(given["made_at"], given["engine_version"], tables)
    except (OSError, BadZipFile, KeyError, TypeError, ValueError) as error:
        raise BenchnightError(
            "backup.not_one", f"{file.name} is no backup, or not a whole one. Take another."
        ) from error


def rows(file: Path, kept: Kept) -> Iterator[dict[str, Any]]:
    """The rows of a table. Raises BenchnightError `backup.damaged`."""
    for line in _lines(file, kept.table):
        yield json.loads(line)


def _lines(file: Path, table: str) -> Iterator[str]:
    try:
        with ZipFile(file) as archive, archive.open(f"{table}.ndjson") as member:
            # a line ends where it was ended: other separators of lines may stand in a text
            yield from io.TextIOWrapper(member, encoding="utf-8", newline="\n")
    except (OSError, BadZipFile, KeyError, EOFError, UnicodeDecodeError) as error:
        raise _damaged(table) from error


def _damaged(table: str) -> BenchnightError:
    return BenchnightError(
        "backup.damaged", f"The backup is damaged: {table} is not as it was written. Take another."
    )
