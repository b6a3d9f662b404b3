"""Moves everything from one database to another, such as from the embedded one to PostgreSQL."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from typing import Any

from django.db.models import Model

from measurements.ingest import restore, table_rows


def between(*, source: str, target: str) -> int:
    """Copies all rows from the database `source` to the empty, migrated `target`; answers how many.

    Both are Django's names of databases. The source is read as of one moment and stays as it is; every table
    is counted and hashed on both sides before the target keeps anything.
    Raises BenchnightError `restore.not_empty`, `restore.differs`.
    """

    def rows_of(table: type[Model]) -> tuple[Iterator[dict[str, Any]], Sequence[str]]:
        names = table_rows.columns(table)
        return (json.loads(line) for line in table_rows.lines(table, names, using=source)), names

    with table_rows.snapshot(source):
        return restore.bring(rows_of, using=target)
