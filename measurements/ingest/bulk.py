"""Stores many new rows of one table at once: COPY on PostgreSQL, batches of INSERT on SQLite."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django.db import connection
from django.db.models import Model

BATCH = 500


def insert(table: type[Model], names: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Rows of values as the columns take them; a column that is not named gets its number from the database.

    names: of the model's columns (`attname`). Raises IntegrityError as an INSERT would.
    """
    if connection.vendor == "postgresql":
        _copy(table, names, rows)
    else:
        made = (table(**dict(zip(names, row, strict=True))) for row in rows)
        table._default_manager.bulk_create(made, batch_size=BATCH)


def _copy(table: type[Model], names: Sequence[str], rows: Iterable[Sequence[Any]]) -> None:
    """Values go as they are, without a model's object around them: a release has a million rows."""
    columns = {
        field.attname: connection.ops.quote_name(field.column) for field in table._meta.concrete_fields
    }
    listed = ", ".join(columns[name] for name in names)
    into = connection.ops.quote_name(table._meta.db_table)
    with connection.cursor() as cursor, cursor.copy(f"COPY {into} ({listed}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)
