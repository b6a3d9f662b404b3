"""Writes everything into one file, from one moment, and reads it again before it counts as written.

The file is a zip: one member per table (lines as `table_rows` makes them) and `manifest.json` with the
columns, the number of rows and the SHA-256 of each. It holds what the database holds, names and sweeps
included: whoever has it has everything.
"""

from __future__ import annotations

import json
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile

from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.ingest import backup_reading, table_rows
from measurements.ingest.table_rows import Tally
from measurements.rf.engine import ENGINE_VERSION

MARK = "last-backup"


@dataclass(frozen=True)
class Written:
    """What a backup holds: tables, rows in all, and the size of the file in bytes."""

    tables: int
    rows: int
    size: int


def write(file: Path, *, using: str = "default") -> Written:
    """Writes a backup to `file`, which must not exist; only its owner may read it.

    It is written beside its place, verified by reading it again, and put in its place last, so that a file of
    this name is a whole backup. Raises BenchnightError `backup.exists`, `backup.place`, `backup.damaged`.
    """
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
    try:
        with os.fdopen(handle, "wb") as out:
            with ZipFile(out, "w", ZIP_DEFLATED, compresslevel=4) as archive:
                _fill(archive, using)
            out.flush()
            os.fsync(out.fileno())
        found = backup_reading.verified(unfinished)
        os.link(unfinished, file)  # fails where somebody made the file meanwhile; a rename would replace it
    finally:
        unfinished.unlink(missing_ok=True)
    _keep_name(file.parent)
    return Written(len(found.tables), sum(table.rows for table in found.tables), file.stat().st_size)


def remember(var: Path) -> None:
    """Leaves a mark under `var` that a verified backup was written now, for who watches the server.

    A new file in the old one's place: the mark of a backup that root made is no obstacle to the next.
    """
    var.mkdir(parents=True, exist_ok=True)
    handle, beside = tempfile.mkstemp(dir=var, prefix=f".{MARK}.")
    os.close(handle)
    Path(beside).replace(var / MARK)


def last_written(var: Path) -> float | None:
    """When `remember` was called last, a Unix time; None where it never was."""
    try:
        return (var / MARK).stat().st_mtime
    except FileNotFoundError:
        return None


def _fill(archive: ZipFile, using: str) -> None:
    listed: list[dict[str, Any]] = []
    with table_rows.snapshot(using):
        for table in table_rows.tables():
            tally, names = Tally(), table_rows.columns(table)
            with archive.open(f"{table_rows.label(table)}.ndjson", "w", force_zip64=True) as member:
                for line in table_rows.lines(table, names, using=using):
                    member.write(tally.take(line).encode())
            listed.append(
                {
                    "table": table_rows.label(table),
                    "columns": list(names),
                    "rows": tally.rows,
                    "sha256": tally.sha256,
                }
            )
    manifest = {
        "format": backup_reading.FORMAT,
        "made_at": timezone.now().isoformat(timespec="seconds"),
        "engine_version": ENGINE_VERSION,
        "tables": listed,
    }
    archive.writestr(backup_reading.MANIFEST, json.dumps(manifest, indent=1) + "\n")


def _keep_name(directory: Path) -> None:
    """A file's name is on disk once its directory is."""
    handle = os.open(directory, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
