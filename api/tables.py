"""Rows as CSV and as NDJSON.

The columns of a CSV come from the output serializer, so an empty list has the same header as a full
one; fields of a nested object are columns `outer.inner`, a list is JSON text in its cell.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from rest_framework import serializers

# a spreadsheet takes a text that begins like this for a formula; numbers are not texts
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


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
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")  # RFC 4180
    writer.writerow(names)
    for row in rows:
        yield _taken(buffer)
        writer.writerow([_cell(_found(row, name)) for name in names])
    yield _taken(buffer)


def ndjson_lines(rows: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """One JSON object per line."""
    for row in rows:
        yield as_json(row) + "\n"


def as_json(value: Any) -> str:
    """Compact JSON. Raises ValueError for a value that JSON cannot hold."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _found(row: Mapping[str, Any], name: str) -> Any:
    if name in row:
        return row[name]
    value: Any = row
    for part in name.split("."):
        if value is None:
            return None
        value = value.get(part)
    return value


def _cell(value: Any) -> Any:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"'{value}" if value.startswith(FORMULA_STARTS) else value
    # also refuses a NaN among numbers, as JSON does
    return as_json(value)


def _taken(buffer: io.StringIO) -> str:
    text = buffer.getvalue()
    buffer.seek(0)
    buffer.truncate()
    return text
