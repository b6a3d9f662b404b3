"""The CSV manifest of an intake: which file is what of whose device. Read tolerantly, written plainly.

Spreadsheets differ: comma, semicolon or tab between columns, a byte order mark, decimal commas, capitals and
spaces in headings are all taken. What cannot be understood names its line and column.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence

from measurements.disclosure import table_text
from measurements.errors import BenchnightError, FieldError

COLUMNS = ("file", "tag", "contributor", "kind", "method", "role", "ratio")
# new_device: yes, somebody says that this tag is a new device; no, the tag comes from a file's name alone,
# and a device that is not known here takes a yes first; empty, the line itself names the tag
NEW_DEVICE = "new_device"
OPTIONAL_COLUMNS = (
    "load_ohm",
    "series_ohm",
    "design",
    "measured_on",
    "calibrated",
    "partner",
    "private",
    NEW_DEVICE,
)
REQUIRED_COLUMNS = ("file", "tag", "kind")
KNOWN_COLUMNS = COLUMNS + OPTIONAL_COLUMNS
LINE_KEY = "line"  # beside the columns: where in the manifest a row stood
SEPARATORS = ",;\t|"
MOST_CHARACTERS = 1_000_000
MOST_CELL = 300

ManifestRow = dict[str, str | int]


def decode_manifest(data: bytes) -> str:
    """Return the text of a manifest as spreadsheets save it: UTF-8 or UTF-16 with its mark, else
    Windows-1252.
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _decode_strictly(data, "utf-16")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return _decode_strictly(data, "cp1252")


def parse_manifest(text: str) -> tuple[ManifestRow, ...]:
    """Return every row as column -> text, with its line under `line`; columns that are absent are empty.

    Raises BenchnightError `manifest.*` with every fault of headings and rows.
    """
    text = text.removeprefix("\ufeff")
    if len(text) > MOST_CHARACTERS or "\x00" in text:
        raise _build_error("manifest.unreadable", "This is not a CSV table of a night's files.")
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=_detect_separator(text), strict=False)
    try:
        heading = next((cells for cells in lines if any(cell.strip() for cell in cells)), None)
        if heading is None:
            raise _build_error("manifest.empty", "The manifest is empty. Get the template, and fill it in.")
        names = _parse_heading(heading, lines.line_num)
        return _parse_rows(names, ((lines.line_num, cells) for cells in lines))
    except csv.Error as error:
        raise _build_error(
            "manifest.unreadable", "This line is not of a CSV table; look at its quotes.", lines.line_num
        ) from error


def format_manifest(rows: Iterable[Mapping[str, object]], columns: Sequence[str] = KNOWN_COLUMNS) -> str:
    """Return a manifest of these rows. A text that a spreadsheet would take for a formula gets a leading
    apostrophe.

    `rows_of` takes that apostrophe away again.
    """
    table = [columns, *([_format_cell(row.get(column, "")) for column in columns] for row in rows)]
    return "".join(table_text.format_csv_rows(table))


def _format_cell(value: object) -> str:
    """Return an apostrophe that is there already gets one before it, so that it comes back."""
    text = "" if value is None else str(value)
    return f"'{text}" if text.startswith("'") else text


def _detect_separator(text: str) -> str:
    """Return the one that the heading has most of; a comma where it has none."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    return max(SEPARATORS, key=lambda separator: (first.count(separator), separator == ","))


def _parse_heading(heading: Sequence[str], line: int) -> list[str]:
    names = ["_".join(cell.strip().lower().replace("-", " ").split()) for cell in heading]
    while names and not names[-1]:
        names.pop()
    faults = [
        FieldError(
            "manifest.unknown_column",
            f"There is no such column; known: {', '.join(KNOWN_COLUMNS)}.",
            name,
            line,
        )
        for name in names
        if name not in KNOWN_COLUMNS
    ]
    faults += [
        FieldError("manifest.repeated_column", "This column is there twice.", name, line)
        for name in sorted({name for name in names if names.count(name) > 1 and name in KNOWN_COLUMNS})
    ]
    faults += [
        FieldError("manifest.missing_column", f"The column {name} is missing.", name, line)
        for name in REQUIRED_COLUMNS
        if name not in names
    ]
    _raise_any(faults)
    return names


def _parse_rows(names: list[str], lines: Iterable[tuple[int, list[str]]]) -> tuple[ManifestRow, ...]:
    rows: list[ManifestRow] = []
    faults: list[FieldError] = []
    seen: dict[str, int] = {}
    for line, cells in lines:
        values = [_parse_cell(cell) for cell in cells]
        if not any(values):
            continue
        row: ManifestRow = dict.fromkeys(KNOWN_COLUMNS, "")
        row |= dict(zip(names, values, strict=False))
        row[LINE_KEY] = line
        faults += _list_row_errors(row, values[len(names) :], line)
        file = str(row["file"])
        if file.casefold() in seen:
            where = seen[file.casefold()]
            faults.append(
                FieldError("manifest.file_twice", f"Line {where} names this file already.", "file", line)
            )
        seen[file.casefold()] = line
        rows.append(row)
    _raise_any(faults)
    return tuple(rows)


def _list_row_errors(row: ManifestRow, beyond: Sequence[str], line: int) -> list[FieldError]:
    faults = []
    if any(beyond):
        faults.append(
            FieldError(
                "manifest.too_many_cells",
                "This line has more cells than there are columns. Put quotes around a decimal comma.",
                None,
                line,
            )
        )
    if not row["file"]:
        faults.append(FieldError("manifest.no_file", "Name the file of this line.", "file", line))
    faults += [
        FieldError("manifest.too_long", f"Keep this under {MOST_CELL} characters.", name, line)
        for name in KNOWN_COLUMNS
        if len(str(row[name])) > MOST_CELL
    ]
    return faults


def _parse_cell(cell: str) -> str:
    plain = " ".join(cell.split())
    return plain[1:].strip() if plain.startswith("'") else plain


def _decode_strictly(data: bytes, encoding: str) -> str:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as error:
        raise _build_error(
            "manifest.unreadable", "This is not a text. Save the table as CSV, UTF-8."
        ) from error


def _raise_any(faults: list[FieldError]) -> None:
    if not faults:
        return
    first = faults[0]
    detail = first.detail if len(faults) == 1 else "Some lines of the manifest need mending; see the list."
    code = first.code if len(faults) == 1 else "manifest.invalid"
    raise BenchnightError(code, detail, field=first.field, line=first.line, errors=tuple(faults))


def _build_error(code: str, detail: str, line: int | None = None) -> BenchnightError:
    return BenchnightError(code, detail, field="manifest", line=line)
