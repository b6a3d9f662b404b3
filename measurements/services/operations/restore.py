"""Brings a backup, or another database, into an empty one: counted and hashed before it counts."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.db import transaction
from django.db.models import Model

from measurements.errors import BenchnightError
from measurements.services.operations import backup, backup_encryption, table_rows
from measurements.services.operations.table_rows import LineTally


@dataclass(frozen=True)
class RestoreSummary:
    """How many tables and rows were brought over, and what the backup had that this version does not know."""

    tables: int
    rows: int
    unknown: tuple[str, ...]


def restore_backup(
    file: Path,
    *,
    key_file: Path | None = None,
    room: Path | None = None,
    leave_out_unknown: bool = False,
    using: str = "default",
) -> RestoreSummary:
    """Restore a backup, an encrypted one with its private key; see `_restore_plain_backup`.

    room: the directory in which it is decrypted, by default the backup's own.
    Raises BenchnightError `backup.*`, `restore.*`, `database.not_migrated`.
    """
    table_rows.check_migrated(using)
    with backup_encryption.open_backup(file, key_file, room=room or file.parent) as plain:
        return _restore_plain_backup(plain, leave_out_unknown=leave_out_unknown, using=using)


def _restore_plain_backup(file: Path, *, leave_out_unknown: bool, using: str) -> RestoreSummary:
    """Restore a backup into an empty, migrated database, all or nothing.

    A column that the backup lacks takes its default, a table that it lacks stays empty: it is of an older
    version. leave_out_unknown: pass over what only a newer version knows.
    Raises BenchnightError `backup.*`, `restore.not_empty`, `restore.unknown`, `restore.differs`.
    """
    contents = backup.verify_backup(file)
    known = {table_rows.get_table_label(table): table for table in table_rows.list_tables()}
    kept = {each.table: each for each in contents.tables if each.table in known}
    unknown = [each.table for each in contents.tables if each.table not in known and each.rows]
    for name, each in kept.items():
        there = set(table_rows.list_columns(known[name]))
        unknown += [f"{name}.{column}" for column in each.columns if column not in there]
    if unknown and not leave_out_unknown:
        raise BenchnightError(
            "restore.unknown",
            f"The backup is of a newer version and holds what this one does not know: {', '.join(unknown)}. "
            "Restore it with that version, or leave these out with --leave-out-unknown.",
        )

    def rows_of(table: type[Model]) -> tuple[Iterable[dict[str, Any]], Sequence[str]]:
        each = kept.get(table_rows.get_table_label(table))
        if each is None:
            return (), ()
        return backup.read_backup_rows(file, each), each.columns

    rows = store_tables(rows_of, using=using)
    return RestoreSummary(len(kept), rows, tuple(unknown))


def store_tables(
    rows_of: Callable[[type[Model]], tuple[Iterable[dict[str, Any]], Sequence[str]]], *, using: str
) -> int:
    """Store the rows of every table and compare what then stands there; answers how many there are.

    rows_of: rows of a table and the columns they have. One transaction: constraints hold at its end.
    Raises BenchnightError `restore.not_empty`, `restore.differs`.
    """
    total = 0
    with transaction.atomic(using=using):
        _refuse_filled_database(using)
        for table in table_rows.list_tables():
            rows, names = rows_of(table)
            both = [name for name in table_rows.list_columns(table) if name in names]
            given = LineTally()
            table_rows.insert_table_rows(table, (_tally_row(row, both, given) for row in rows), using=using)
            stored = LineTally()
            for line in table_rows.read_table_lines(table, both, using=using) if both else ():
                stored.take(line)
            if (stored.rows, stored.sha256) != (given.rows, given.sha256):
                raise BenchnightError(
                    "restore.differs",
                    f"{table_rows.get_table_label(table)} did not arrive as it was; nothing was stored. "
                    f"Is the server "
                    "stopped, and the backup of this project?",
                )
            total += given.rows
        table_rows.continue_numbering(using=using)
    return total


def _tally_row(row: dict[str, Any], names: Sequence[str], tally: LineTally) -> dict[str, Any]:
    shared = {name: row[name] for name in names}
    tally.take(table_rows.format_line(shared))
    return shared


def _refuse_filled_database(using: str) -> None:
    filled = [
        table_rows.get_table_label(table)
        for table in table_rows.list_tables()
        if table._base_manager.using(using).exists()
    ]
    if filled:
        raise BenchnightError(
            "restore.not_empty",
            f"The database is not empty ({', '.join(filled[:3])} and so on). Restore into a new one: make "
            "it, run `manage.py migrate`, then this.",
            kind="conflict",
        )


# Moves everything from one database to another, such as from the embedded one to PostgreSQL.


def transfer_database(*, source: str, target: str) -> int:
    """Copy all rows from the database `source` to the empty, migrated `target`; answers how many.

    Both are Django's names of databases. The source is read as of one moment and stays as it is; every table
    is counted and hashed on both sides before the target keeps anything.
    Raises BenchnightError `restore.not_empty`, `restore.differs`, `database.not_migrated`.
    """
    table_rows.check_migrated(source)
    table_rows.check_migrated(target)

    def rows_of(table: type[Model]) -> tuple[Iterator[dict[str, Any]], Sequence[str]]:
        names = table_rows.list_columns(table)
        return (json.loads(line) for line in table_rows.read_table_lines(table, names, using=source)), names

    with table_rows.open_snapshot(source):
        return store_tables(rows_of, using=target)
