"""Writes everything into one file, from one moment, and reads it again before it counts as written.

The file is a zip: one member per table (lines as `table_rows` makes them) and `manifest.json` with the
columns, the number of rows and the SHA-256 of each. It holds what the database holds, names and sweeps
included: whoever has it has everything.
"""

from __future__ import annotations

import io
import json
import os
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, BadZipFile, ZipFile

from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.rf.analysis import ENGINE_VERSION
from measurements.services.operations import backup_encryption, table_rows
from measurements.services.operations.table_rows import LineTally

# Reads a backup: what it says it holds, whether it does, and its rows.

BACKUP_FORMAT = 1

MANIFEST_FILE = "manifest.json"


@dataclass(frozen=True)
class BackupTable:
    """A table as a backup holds it."""

    table: str
    columns: tuple[str, ...]
    rows: int
    sha256: str


@dataclass(frozen=True)
class BackupContents:
    """What a backup's manifest says."""

    made_at: str
    engine_version: str
    tables: tuple[BackupTable, ...]


def verify_backup(file: Path) -> BackupContents:
    """Return the contents of a backup of which every table has been read, counted and hashed.

    Raises BenchnightError `backup.damaged` naming the table, `backup.not_one` for any other file.
    """
    contents = read_backup_manifest(file)
    for kept in contents.tables:
        tally = LineTally()
        for line in _read_backup_lines(file, kept.table):
            tally.take(line)
        if (tally.rows, tally.sha256) != (kept.rows, kept.sha256):
            raise _build_damage_error(kept.table)
    return contents


def read_backup_manifest(file: Path) -> BackupContents:
    """Read the list of contents of a backup. Raises BenchnightError `backup.not_one`, `backup.format`."""
    try:
        with ZipFile(file) as archive:
            given = json.loads(archive.read(MANIFEST_FILE))
        if given["format"] != BACKUP_FORMAT:
            raise BenchnightError(
                "backup.format",
                f"This backup is of form {given['format']}; this version reads form {BACKUP_FORMAT}. "
                f"Restore it "
                "with the version that made it.",
            )
        tables = tuple(
            BackupTable(each["table"], tuple(each["columns"]), int(each["rows"]), each["sha256"])
            for each in given["tables"]
        )
        return BackupContents(given["made_at"], given["engine_version"], tables)
    except (OSError, BadZipFile, KeyError, TypeError, ValueError) as error:
        raise BenchnightError(
            "backup.not_one", f"{file.name} is no backup, or not a whole one. Take another."
        ) from error


def read_backup_rows(file: Path, kept: BackupTable) -> Iterator[dict[str, Any]]:
    """Yield the rows of a table. Raises BenchnightError `backup.damaged`."""
    for line in _read_backup_lines(file, kept.table):
        yield json.loads(line)


def _read_backup_lines(file: Path, table: str) -> Iterator[str]:
    try:
        with ZipFile(file) as archive, archive.open(f"{table}.ndjson") as member:
            # a line ends where it was ended: other separators of lines may stand in a text
            yield from io.TextIOWrapper(member, encoding="utf-8", newline="\n")
    except (OSError, BadZipFile, KeyError, EOFError, UnicodeDecodeError) as error:
        raise _build_damage_error(table) from error


def _build_damage_error(table: str) -> BenchnightError:
    return BenchnightError(
        "backup.damaged", f"The backup is damaged: {table} is not as it was written. Take another."
    )


LAST_BACKUP_FILE = "last-backup"


@dataclass(frozen=True)
class BackupSummary:
    """What a backup holds: tables, rows in all, and the size of the file in bytes."""

    tables: int
    rows: int
    size: int


def write_backup(file: Path, *, public_keys: Sequence[str] = (), using: str = "default") -> BackupSummary:
    """Write a backup to `file`, which must not exist; only its owner may read it.

    It is written beside its place, verified by reading it again, and put in its place last, so that a file of
    this name is a whole backup. public_keys: encrypts it to these, see `backup_encryption`.
    Raises BenchnightError `backup.exists`, `backup.place`, `backup.damaged`, `backup.public_key`,
    `database.not_migrated`.
    """
    recipients = backup_encryption.parse_public_keys(public_keys)
    table_rows.check_migrated(using)
    if file.exists():
        raise BenchnightError(
            "backup.exists", f"There is a {file.name} already. Give another name.", kind="conflict"
        )
    try:
        # readable by its owner alone from the first byte on
        handle, beside = tempfile.mkstemp(dir=file.parent, prefix=f".{file.name}.")
    except OSError as error:
        raise BenchnightError(
            "backup.place", f"Nothing can be written in {file.parent}: {error.strerror}."
        ) from error
    unfinished = Path(beside)
    encrypted = unfinished.with_name(f"{unfinished.name}{backup_encryption.SUFFIX}")
    try:
        with os.fdopen(handle, "wb") as out:
            with ZipFile(out, "w", ZIP_DEFLATED, compresslevel=4) as archive:
                _write_tables(archive, using)
            out.flush()
            os.fsync(out.fileno())
        found = verify_backup(unfinished)
        if recipients:
            backup_encryption.encrypt_backup(unfinished, encrypted, recipients)
        # a link fails where somebody made the file meanwhile; a rename would replace it
        os.link(encrypted if recipients else unfinished, file)
    finally:
        unfinished.unlink(missing_ok=True)
        encrypted.unlink(missing_ok=True)
    _sync_directory(file.parent)
    return BackupSummary(len(found.tables), sum(table.rows for table in found.tables), file.stat().st_size)


def record_backup_time(var: Path) -> None:
    """Leave a mark under `var` that a verified backup was written now, for who watches the server.

    A new file in the old one's place: the mark of a backup that root made is no obstacle to the next.
    """
    var.mkdir(parents=True, exist_ok=True)
    handle, beside = tempfile.mkstemp(dir=var, prefix=f".{LAST_BACKUP_FILE}.")
    os.close(handle)
    Path(beside).replace(var / LAST_BACKUP_FILE)


def get_last_backup_time(var: Path) -> float | None:
    """Return when `remember` was called last, a Unix time; None where it never was."""
    try:
        return (var / LAST_BACKUP_FILE).stat().st_mtime
    except FileNotFoundError:
        return None


def _write_tables(archive: ZipFile, using: str) -> None:
    listed: list[dict[str, Any]] = []
    with table_rows.open_snapshot(using):
        for table in table_rows.list_tables():
            tally, names = LineTally(), table_rows.list_columns(table)
            with archive.open(f"{table_rows.get_table_label(table)}.ndjson", "w", force_zip64=True) as member:
                for line in table_rows.read_table_lines(table, names, using=using):
                    member.write(tally.take(line).encode())
            listed.append(
                {
                    "table": table_rows.get_table_label(table),
                    "columns": list(names),
                    "rows": tally.rows,
                    "sha256": tally.sha256,
                }
            )
    manifest = {
        "format": BACKUP_FORMAT,
        "made_at": timezone.now().isoformat(timespec="seconds"),
        "engine_version": ENGINE_VERSION,
        "tables": listed,
    }
    archive.writestr(MANIFEST_FILE, json.dumps(manifest, indent=1) + "\n")


def _sync_directory(directory: Path) -> None:
    """Flush the directory to disk: only then is a file's name there."""
    handle = os.open(directory, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
