"""Stores many new rows of one table at once: COPY on PostgreSQL, batches of INSERT on SQLite."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

from django.db import connection
from django.db.models import Model

Row = TypeVar("Row", bound=Model)
BATCH = 500


def insert(table: type[Row], rows: Iterable[Row]) -> None:
    """Rows that are complete but for a row number that the database gives.

    Raises IntegrityError as an INSERT would.
    """
    if connection.vendor == "postgresql":
        _copy(table, rows)
    else:
        table._default_manager.bulk_create(rows, batch_size=BATCH)


def _copy(table: type[Row], rows: Iterable[Row]) -> None:
    fields = [field for field in table._meta.concrete_fields if not _given_by_database(field)]
    columns = ", ".join(connection.ops.quote_name(field.column) for field in fields)
    name = connection.ops.quote_name(table._meta.db_table)
    with connection.cursor() as cursor, cursor.copy(f"COPY {name} ({columns}) FROM STDIN") as copy:
        for row in rows:
            values = [field.get_db_prep_save(getattr(row, field.attname), connection) for field in fields]
            copy.write_row(values)


def _given_by_database(field: object) -> bool:
    return type(field).__name__ in ("AutoField", "BigAutoField")
