"""Rows as the text of a CSV (RFC 4180) or of NDJSON: numbers stay numbers, no text becomes a formula."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

# a spreadsheet takes a text that begins like this for a formula; numbers are not texts
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n")


def csv_lines(rows: Iterable[Sequence[Any]], names: Sequence[str]) -> Iterator[str]:
    """The table line by line, its header first. rows: one value per name."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow(names)
    for row in rows:
        yield _taken(buffer)
        writer.writerow([cell(value) for value in row])
    yield _taken(buffer)


def ndjson_lines(rows: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """One JSON object per line."""
    for row in rows:
        yield as_json(row) + "\n"


def as_json(value: Any) -> str:
    """Compact JSON. Raises ValueError for a value that JSON cannot hold."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def cell(value: Any) -> Any:
    """What a CSV writer is given for a value; empty for None. Raises ValueError for a NaN, as JSON does."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"'{value}" if value.startswith(FORMULA_STARTS) else value
    return as_json(value)


def _taken(buffer: io.StringIO) -> str:
    text = buffer.getvalue()
    buffer.seek(0)
    buffer.truncate()
    return text
