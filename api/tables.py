"""Rows as CSV and as NDJSON.

The columns of a CSV come from the output serializer, so an empty list has the same header as a full
one; fields of a nested object are columns `outer.inner`, a list is JSON text in its cell.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from rest_framework import serializers

from measurements.disclosure import table_cells
from measurements.disclosure.table_cells import FORMULA_STARTS as FORMULA_STARTS
from measurements.disclosure.table_cells import ndjson_lines as ndjson_lines


def columns(serializer: serializers.Serializer) -> tuple[str, ...]:
    """The column names of a serializer's rows."""
    names: list[str] = []
    for name, field in serializer.fields.items():
        if isinstance(field, serializers.Serializer):
            names += [f"{name}.{inner}" for inner in columns(field)]
        else:
            names.append(name)
    return tuple(names)


def csv_text(rows: Iterable[Mapping[str, Any]], names: Sequence[str]) -> str:
    """The whole table."""
    return "".join(csv_lines(rows, names))


def csv_lines(rows: Iterable[Mapping[str, Any]], names: Sequence[str]) -> Iterator[str]:
    """The table line by line, its header first; a name `outer.inner` reaches into a nested object."""
    return table_cells.csv_lines(([_found(row, name) for name in names] for row in rows), names)


def _found(row: Mapping[str, Any], name: str) -> Any:
    if name in row:
        return row[name]
    value: Any = row
    for part in name.split("."):
        if value is None:
            return None
        value = value.get(part)
    return value
