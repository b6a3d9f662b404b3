"""Rows as the text of a CSV (RFC 4180) or of NDJSON: numbers stay numbers, no text becomes a formula."""

from __future__ import annotations

import csv
import itertools
import json
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

# one encoder for all lines: making one costs more than a line
_ENCODER = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(",", ":"))
# a spreadsheet takes a text that begins like this for a formula (OWASP, CSV Injection; the last four are the
# full-width forms); numbers are not texts
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
# a writer puts quotes around whatever holds a character of its line end: so a semicolon or a tab within a
# text begins no cell of its own where a spreadsheet separates by these
_LINE_END = ";\t\r\n"


def format_csv_table(rows: Iterable[Sequence[Any]], names: Sequence[str]) -> Iterator[str]:
    """Return the table line by line, its header first. rows: one value per name."""
    return format_csv_rows(itertools.chain([names], rows))


def format_csv_rows(rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    """Yield lines without a header."""
    line: list[str] = []
    writer = csv.writer(_LineSink(line), lineterminator=_LINE_END)
    for row in rows:
        writer.writerow([format_cell(value) for value in row])
        yield line.pop().removesuffix(_LINE_END) + "\r\n"


def format_ndjson_lines(rows: Iterable[Mapping[str, Any]]) -> Iterator[str]:
    """Yield one JSON object per line."""
    encode = _ENCODER.encode
    for row in rows:
        yield encode(row) + "\n"


def format_json(value: Any) -> str:
    """Return compact JSON. Raises ValueError for a value that JSON cannot hold."""
    return _ENCODER.encode(value)


def format_cell(value: Any) -> Any:
    """Convert a value to the text of a CSV cell; empty for None. Raises ValueError for a NaN, as JSON
    does.
    """
    if isinstance(value, str):
        return f"'{value}" if value.startswith(FORMULA_STARTS) else value
    if value is None:
        return ""
    if isinstance(value, float) and math.isfinite(value):
        return value  # the writer's own form of a float is that of JSON
    if isinstance(value, bool):
        return "true" if value else "false"
    return format_json(value)


class _LineSink:
    """What a CSV writer writes to: the end of a list."""

    def __init__(self, lines: list[str]) -> None:
        self.write = lines.append
