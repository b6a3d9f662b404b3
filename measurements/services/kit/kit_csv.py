"""The CSV of kit: read tolerantly, each cell with its line, so that a fault names where it is."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from measurements.disclosure.table_text import FORMULA_STARTS
from measurements.errors import BenchnightError, FieldError

# what a table can change, in the order of its columns; `id` finds the device, `owner` is only shown
WRITABLE = (
    "tag",
    "design",
    "kind",
    "ratio",
    "make",
    "origin",
    "built_on",
    "place",
    "retired_on",
    "notes",
)
SHOWN_ONLY = (
    "lent_to",
    "lent_on",
    "design_title",
    "registered_at",
    "version",
    "tests",
    "of_group",
    "state",
    "reasons",
    "reason",
    "next_step",
    "due_on",
)
COLUMNS = ("id", "owner", *WRITABLE, *SHOWN_ONLY)
DATES = ("built_on", "retired_on")
SEPARATORS = ",;\t"
MOST_CHARACTERS = 1_000_000
MOST_ROWS = 1000


@dataclass(frozen=True)
class TableRow:
    """A row of the table: its first line, counted from 1, and the text of each column that is there."""

    line: int
    cells: dict[str, str]


def decode_table(data: bytes) -> str:
    """Return the text of a file as spreadsheets save it: UTF-8 or UTF-16 with its mark, else Windows-1252."""
    for encoding in ("utf-16",) if data.startswith((b"\xff\xfe", b"\xfe\xff")) else ("utf-8-sig", "cp1252"):
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise _build_error("This file is no text. Save the table as CSV.", 1)


def parse_table(text: str) -> tuple[TableRow, ...]:
    """Read the table. Separators are comma, semicolon or tab; case and spaces of headings do not matter.

    Raises BenchnightError `kit.table`, with line and column of every fault of headings and shape.
    """
    text = text.removeprefix("\ufeff")
    if len(text) > MOST_CHARACTERS:
        raise _build_error(f"Keep the table under {MOST_CHARACTERS} characters.", 1)
    if "\x00" in text:
        raise _build_error(
            "This is no CSV table: it holds a zero byte.", text[: text.index("\x00")].count("\n") + 1
        )
    rows = list(_iterate_rows(text))
    if not rows:
        raise _build_error("The table is empty. The first line names the columns.", 1)
    (line, heading), *rest = rows
    names = _parse_heading(line, heading)
    if len(rest) > MOST_ROWS:
        raise _build_error(f"Send up to {MOST_ROWS} rows at a time.", rest[MOST_ROWS][0])
    faults = [_check_width(line, cells, names) for line, cells in rest]
    _raise_any([fault for fault in faults if fault is not None])
    return tuple(TableRow(line, _read_cells(names, cells)) for line, cells in rest)


def parse_value(name: str, text: str) -> Any:
    """Return the value of a cell. Raises ValueError for what is no date in a column of dates."""
    if name in DATES:
        return date.fromisoformat(text) if text else None
    if name == "design":
        return text or None
    return text.lower() or "homebrew" if name == "origin" else text


def _iterate_rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """Yield line and cells of every row that is not blank."""
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=_detect_separator(text), strict=True)
    while True:
        start = lines.line_num + 1
        try:
            cells = next(lines, None)
        except csv.Error as error:
            raise _build_error("This line is not of a CSV table; look at its quotes.", start) from error
        if cells is None:
            return
        if any(cell.strip() for cell in cells):
            yield start, cells


def _detect_separator(text: str) -> str:
    heading = next((line for line in text.splitlines() if line.strip()), "")
    return max(SEPARATORS, key=heading.count)


def _parse_heading(line: int, heading: Sequence[str]) -> list[str]:
    names = ["_".join(cell.strip().lower().split()) for cell in heading]
    faults = []
    for place, name in enumerate(names):
        if name not in COLUMNS:
            detail = f"There is no column {name!r}; these are known: {', '.join(COLUMNS)}."
            faults.append(FieldError("kit.column", detail, name, line))
        elif name in names[:place]:
            faults.append(FieldError("kit.column", f"The column {name} is there twice.", name, line))
    if not {"id", "tag"} & set(names):
        faults.append(FieldError("kit.column", "The table needs a column id or tag.", "tag", line))
    _raise_any(faults)
    return names


def _check_width(line: int, cells: Sequence[str], names: Sequence[str]) -> FieldError | None:
    if len(cells) <= len(names) or not any(cell.strip() for cell in cells[len(names) :]):
        return None
    return FieldError(
        "kit.cells", f"This row has {len(cells)} cells, the heading has {len(names)}.", names[-1], line
    )


def _read_cells(names: Sequence[str], cells: Sequence[str]) -> dict[str, str]:
    padded = [*cells, *[""] * (len(names) - len(cells))]
    return {name: _unquote(name, cell) for name, cell in zip(names, padded, strict=False)}


def _unquote(name: str, cell: str) -> str:
    """Take off the mark that keeps a spreadsheet from reading a text as a formula."""
    text = cell if name == "notes" else " ".join(cell.split())
    return text[1:] if text[:1] == "'" and text[1:].startswith(FORMULA_STARTS) else text


def _raise_any(faults: list[FieldError]) -> None:
    if faults:
        first = faults[0]
        raise BenchnightError(
            first.code,
            first.detail,
            field=first.field,
            line=first.line,
            errors=tuple(faults),
            found=len(faults),
        )


def _build_error(detail: str, line: int) -> BenchnightError:
    return BenchnightError("kit.table", detail, field="table", line=line)
