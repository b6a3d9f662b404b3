"""Every row of every table as a line of text, the same on both engines, and back: what copies are made of.

A line is canonical JSON (sorted keys, one form per number), so that its SHA-256 tells whether two databases
hold the same. Bytes are base64, times are ISO 8601 in UTC.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any
from uuid import UUID

from django.apps import apps
from django.core.management.color import no_style
from django.db import connections, transaction
from django.db.migrations.executor import MigrationExecutor
from django.db.models import BinaryField, Field, JSONField, Model

from measurements.errors import BenchnightError

OWN_APPS = ("measurements", "api")
# not copied: counts of requests are of the hour, sessions and queues of the running server; kept states and
# what changed since are judged anew from everything else
EXCLUDED_TABLES = ("measurements.DeviceState", "measurements.StateChange", "measurements.UseCount")
BATCH = 200


def list_tables() -> list[type[Model]]:
    """Return every table that a copy holds, by its label."""
    found = (table for app in OWN_APPS for table in apps.get_app_config(app).get_models())
    return sorted(
        (table for table in found if get_table_label(table) not in EXCLUDED_TABLES), key=get_table_label
    )


def check_migrated(using: str = "default") -> None:
    """Check that all tables are there. Raises BenchnightError `database.not_migrated`."""
    executor = MigrationExecutor(connections[using])
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        raise BenchnightError(
            "database.not_migrated",
            "The tables of this database are missing, or of another version. Run `manage.py migrate` first, "
            "then this again.",
            kind="conflict",
        )


def get_table_label(table: type[Model]) -> str:
    """Return `app.Model`."""
    return table._meta.label


def list_columns(table: type[Model]) -> tuple[str, ...]:
    """Return the columns of a table, in the order of their names."""
    return tuple(sorted(field.attname for field in table._meta.concrete_fields))


@dataclass
class LineTally:
    """How many lines went by, and the SHA-256 of them all."""

    rows: int = 0

    def __post_init__(self) -> None:
        self._hash = hashlib.sha256()

    def take(self, line: str) -> str:
        """Count a line and hand it on."""
        self.rows += 1
        self._hash.update(line.encode())
        return line

    @property
    def sha256(self) -> str:
        return self._hash.hexdigest()


def read_table_lines(table: type[Model], names: Iterable[str], *, using: str) -> Iterator[str]:
    """Yield the rows of a table in the order of their keys, these columns of each; memory stays what it
    is.
    """
    wanted = tuple(names)
    rows = table._base_manager.using(using).order_by("pk").values_list(*wanted)
    fields = {field.attname: field for field in table._meta.concrete_fields}
    kept = [fields[name] for name in wanted]
    for row in rows.iterator(chunk_size=BATCH):
        values = zip(wanted, kept, row, strict=True)
        yield format_line({name: _encode_value(field, value) for name, field, value in values})


def format_line(row: dict[str, Any]) -> str:
    """Return one row as canonical JSON with its line end. Raises ValueError for what JSON cannot hold."""
    return json.dumps(row, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":")) + "\n"


def insert_table_rows(table: type[Model], rows: Iterable[dict[str, Any]], *, using: str) -> None:
    """Store rows as they are, keys and times of writing too; a column that a row lacks takes its default."""
    fields = list(table._meta.concrete_fields)
    database = connections[using]
    named = ", ".join(database.ops.quote_name(field.column) for field in fields)
    into = f"{database.ops.quote_name(table._meta.db_table)} ({named})"
    values = ([field.get_db_prep_save(_decode_row(field, row), database) for field in fields] for row in rows)
    with database.cursor() as cursor:
        if database.vendor == "postgresql":
            with cursor.copy(f"COPY {into} FROM STDIN") as copy:
                for row in values:
                    copy.write_row(row)
            return
        marks = ", ".join(["%s"] * len(fields))
        for some in _batches(values):
            cursor.executemany(f"INSERT INTO {into} VALUES ({marks})", some)  # noqa: S608 our own names


def continue_numbering(*, using: str) -> None:
    """Let row numbers go on behind the highest one (PostgreSQL keeps a counter beside the table)."""
    database = connections[using]
    with database.cursor() as cursor:
        for statement in database.ops.sequence_reset_sql(no_style(), list_tables()):
            cursor.execute(statement)


def open_snapshot(using: str) -> transaction.Atomic | _ReadTransaction:
    """Return a context in which every read sees one moment, while others go on writing."""
    database = connections[using]
    if database.in_atomic_block:
        return transaction.atomic(using=using)
    return _ReadTransaction(using)


class _ReadTransaction:
    """A transaction that only reads. On SQLite not Django's own, which would keep writers out."""

    def __init__(self, using: str) -> None:
        self._database = connections[using]

    def __enter__(self) -> None:
        begin = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
        with self._database.cursor() as cursor:
            cursor.execute(begin if self._database.vendor == "postgresql" else "BEGIN DEFERRED")

    def __exit__(self, *_raised: object) -> None:
        with self._database.cursor() as cursor:
            cursor.execute("COMMIT")


def _encode_value(field: Field[Any, Any], value: Any) -> Any:
    if value is None:
        return None
    if isinstance(field, BinaryField):
        return base64.b64encode(bytes(value)).decode("ascii")
    if isinstance(field, JSONField):
        return _canonicalise_number(value)
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    return str(value) if isinstance(value, UUID) else _canonicalise_number(value)


def _canonicalise_number(value: Any) -> Any:
    """Return JSON with one form per number: engines give back 1e22 as a whole number, and -0.0 as 0.0."""
    if isinstance(value, dict):
        return {key: _canonicalise_number(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_canonicalise_number(each) for each in value]
    if isinstance(value, float):
        return value + 0.0
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) >= 2**53:
        return float(value)
    return value


def _decode_row(field: Field[Any, Any], row: dict[str, Any]) -> Any:
    if field.attname not in row:
        return field.get_default()
    value = row[field.attname]
    if value is None or isinstance(field, JSONField):
        return value
    if isinstance(field, BinaryField):
        return base64.b64decode(value)
    target = field.target_field if field.is_relation else field
    return target.to_python(value)


def _batches(rows: Iterable[list[Any]]) -> Iterator[list[list[Any]]]:
    batch: list[list[Any]] = []
    for row in rows:
        batch.append(row)
        if len(batch) == BATCH:
            yield batch
            batch = []
    if batch:
        yield batch
