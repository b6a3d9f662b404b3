"""One line of a CSV file -> cells, and one cell -> a number, under a given dialect."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass

from measurements.errors import BenchnightError
from measurements.rf.sweeps.file_limits import MAX_NUMBER_CHARACTERS, build_refusal

SEPARATORS = (",", ";", "\t", " ")

SEPARATOR_NAMES = {",": "comma", ";": "semicolon", "\t": "tab", " ": "spaces"}

DECIMALS = (".", ",")

MAX_COLUMNS = 64

_AS_PYTHON_WRITES = str.maketrans(",dD", ".ee")  # a decimal comma, and the exponents of Fortran programs
_EXPONENT = r"(?:[eEdD][+-]?[0-9]+)?"

_NUMBERS = {
    ".": re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)" + _EXPONENT),
    ",": re.compile(r"[+-]?(?:[0-9]+(?:,[0-9]+)?|,[0-9]+)" + _EXPONENT),
}

_THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}(?:[.,' \u00a0\u2009\u202f][0-9]{3})+(?:[.,][0-9]+)?")

_NOT_FINITE = ("nan", "inf", "infinity", "#num!", "#div/0!", "#n/a", "-nan", "-inf", "+inf")


def split_cells(line: str, separator: str, number: int) -> list[str]:
    """Return the cells of a line, stripped; empty cells at its end are dropped.

    separator: one of SEPARATORS; " " stands for any run of spaces and tabs. number: its line, for
    the refusals `sweep.csv_quotes` and `sweep.csv_columns`.
    """
    if separator == " ":
        cells = line.replace('"', "").split()
    elif '"' in line:
        cells = _quoted(line, separator, number)
    else:
        cells = [cell.strip() for cell in line.split(separator)]
    while cells and not cells[-1]:
        cells.pop()
    if len(cells) > MAX_COLUMNS:
        raise build_refusal(
            "csv_columns", f"Line {number} has {len(cells)} columns, more than {MAX_COLUMNS}.", number
        )
    return cells


def _quoted(line: str, separator: str, number: int) -> list[str]:
    try:
        rows = list(csv.reader([line.strip(" ")], delimiter=separator, skipinitialspace=True, strict=True))
    except csv.Error:
        raise build_refusal(
            "csv_quotes", f"The quotation marks in line {number} do not pair up.", number
        ) from None
    return [cell.strip() for cell in rows[0]] if rows else []


def is_number(cell: str, decimal: str) -> bool:
    """Say whether a cell is a plain number with this decimal mark."""
    return len(cell) <= MAX_NUMBER_CHARACTERS and bool(_NUMBERS[decimal].fullmatch(_normalise_minus(cell)))


def looks_grouped(cell: str) -> bool:
    """Say whether a cell looks like a number with thousands marks (1,000,000 or 1.000,5)."""
    return bool(_THOUSANDS.fullmatch(cell))


def parse_cell(cell: str, decimal: str, line: int) -> float:
    """Return the number in a cell.

    Raises BenchnightError: sweep.number_too_long, sweep.not_finite, sweep.csv_thousands,
    sweep.decimal_comma, sweep.csv_empty_cell, sweep.not_a_number.
    """
    plain = _normalise_minus(cell)
    if len(plain) <= MAX_NUMBER_CHARACTERS and _NUMBERS[decimal].fullmatch(plain):
        value = float(plain.translate(_AS_PYTHON_WRITES))
        if math.isfinite(value):
            return value
    shown = cell[:MAX_NUMBER_CHARACTERS]
    if not cell:
        raise build_refusal(
            "csv_empty_cell", f"A cell in line {line} is empty. Export the sweep again.", line
        )
    if len(cell) > MAX_NUMBER_CHARACTERS:
        raise build_refusal("number_too_long", f"'{shown}...' in line {line} is too long for a number.", line)
    if cell.lower() in _NOT_FINITE or _NUMBERS[decimal].fullmatch(plain):
        raise build_refusal(
            "not_finite", f"'{shown}' in line {line} is no measured value. Sweep again.", line
        )
    if looks_grouped(cell):
        raise build_refusal(
            "csv_thousands",
            f"'{shown}' in line {line} can be read in two ways: is a mark in it for thousands or the "
            "decimal mark? Export again without thousands marks, and with one decimal mark throughout.",
            line,
        )
    if any(_NUMBERS[mark].fullmatch(plain) for mark in DECIMALS):
        raise build_refusal(
            "decimal_comma",
            f"'{shown}' in line {line} has another decimal mark than the lines above. Use one throughout.",
            line,
        )
    raise build_refusal(
        "not_a_number", f"'{shown}' in line {line} is not a number. Export the sweep again.", line
    )


def _normalise_minus(cell: str) -> str:
    """Return spreadsheets write a true minus sign at times."""
    return cell.replace("\u2212", "-", 1) if cell.startswith("\u2212") else cell


# Finding the table in a CSV file: which separator, which decimal mark, where the data begin.
#
# Marks for thousands are never guessed away: a number that could be read in two ways is a question.
# Comment lines begin with #, ! or //.

_PREAMBLE = 1_000

_SAMPLE = 20

_COMMENTS = ("#", "!", "//")

_UNIT_CELLS = frozenset(
    (
        "",
        "hz",
        "khz",
        "mhz",
        "ghz",
        "db",
        "deg",
        "°",
        "degrees",
        "rad",
        "ohm",
        "ohms",
        "ω",
        "lin",
        "ratio",
        ":1",
    )
)


@dataclass(frozen=True)
class Dialect:
    """separator: one of SEPARATORS; decimal: "." or ","."""

    separator: str
    decimal: str


@dataclass(frozen=True)
class Layout:
    """Where things are. Lines count from 1.

    first_line: first line of data; columns: how many; header: their names, () if there are none;
    header_line: 0 without header; skipped: lines above that are neither header nor comment.
    """

    dialect: Dialect
    first_line: int
    columns: int
    header: tuple[str, ...] = ()
    header_line: int = 0
    skipped: int = 0


def parse_comment(line: str) -> str | None:
    """Return the text of a comment line, or None if it is no comment."""
    stripped = line.strip()
    for mark in _COMMENTS:
        if stripped.startswith(mark):
            return stripped.lstrip("#!/").strip()
    return None


def iterate_content_lines(lines: list[str], start: int = 1) -> Iterator[tuple[int, str]]:
    """Yield (line, text) of the lines from `start` on that are neither blank nor comment."""
    for number in range(start, len(lines) + 1):
        line = lines[number - 1].strip(" ")
        if line.strip() and parse_comment(line) is None:
            yield number, line


def find_layout(lines: list[str]) -> Layout:
    """Return separator, decimal mark, header and first data line.

    Raises BenchnightError: sweep.no_data, sweep.csv_no_table, sweep.csv_thousands,
    sweep.csv_columns, sweep.csv_quotes.
    """
    head = [entry for entry, _ in zip(iterate_content_lines(lines), range(_PREAMBLE + _SAMPLE), strict=False)]
    if not head:
        raise build_refusal(
            "no_data", "The file holds nothing but comments. Save the sweep again.", len(lines)
        )
    fit = _find_dialect(head, text_cells=False) or _find_dialect(head, text_cells=True)
    if fit is None:
        raise _no_table(head)
    dialect, first = fit
    line = head[first][0]
    columns = len(split_cells(head[first][1], dialect.separator, line))
    header, header_line, above = _header(lines, head[:first], dialect, columns, line)
    return Layout(dialect, line, columns, header, header_line, above)


def _find_dialect(head: list[tuple[int, str]], *, text_cells: bool) -> tuple[Dialect, int] | None:
    """Return the dialect under which the table begins earliest, with the index of that line in `head`.

    Two separators cannot both fit: a cell that holds another separator is neither number nor text
    (spaces count only where nothing else fits). Two decimal marks fit only whole numbers.
    text_cells: columns of text (a time, PASS, nan) may stand among the numbers, not before them.
    """
    found: list[tuple[int, Dialect]] = []
    for separator in SEPARATORS:
        if found and separator == " ":
            break
        rows = [_cells(text, separator, line) for line, text in head]
        for decimal in DECIMALS:
            first = _first_row(rows, head, decimal, text_cells)
            if first is not None:
                found.append((first, Dialect(separator, decimal)))
    if not found:
        return None
    first, dialect = min(found, key=lambda fit: fit[0])  # the first of equals: the decimal point
    return dialect, first


def _cells(text: str, separator: str, line: int) -> list[str]:
    try:
        return split_cells(text, separator, line)
    except BenchnightError:
        return []  # not a row under this separator; another may fit


def _first_row(
    rows: list[list[str]], head: list[tuple[int, str]], decimal: str, text_cells: bool
) -> int | None:
    """Return the first row of a run that holds to the end of the sample; a closing END is allowed."""
    numeric = [_numeric(cells, decimal, text_cells) for cells in rows]
    for index in range(min(len(rows), _PREAMBLE)):
        if numeric[index] < 2:
            continue
        stop = min(index + _SAMPLE, len(rows))
        good = [numeric[k] > 0 and len(rows[k]) == len(rows[index]) for k in range(index, stop)]
        if all(good) or (stop == len(rows) and all(good[:-1]) and head[-1][1].strip().isalpha()):
            return index
    return None


def _numeric(cells: list[str], decimal: str, text_cells: bool) -> int:
    """Count the numbers of a row of data; 0 if it is no such row."""
    good = [is_number(cell, decimal) for cell in cells]
    if len(cells) < 2 or not good[0]:
        return 0
    strangers = [cell for cell, fits in zip(cells, good, strict=True) if not fits]
    if strangers and (not text_cells or any(set(cell) & set(",;\t") for cell in strangers)):
        return 0
    return sum(good)


def _no_table(head: list[tuple[int, str]]) -> BenchnightError:
    for line, text in head:
        for separator in SEPARATORS[:3]:
            if text.count('"') % 2:
                return build_refusal(
                    "csv_quotes", f"The quotation marks in line {line} do not pair up.", line
                )
            cells = _cells(text, separator, line)
            if len(cells) > 1 and any(looks_grouped(cell) for cell in cells):
                return build_refusal(
                    "csv_thousands",
                    f"Line {line} has numbers that can be read in two ways: thousands or decimal marks? "
                    "Export without thousands marks, and with one decimal mark throughout.",
                    line,
                )
    return build_refusal(
        "csv_no_table",
        "No table of numbers was found. A CSV sweep has a frequency column and at least one more in every "
        "line, such as 'frequency MHz, S21 dB, S21 phase deg'.",
        head[0][0],
    )


def _header(
    lines: list[str], above: list[tuple[int, str]], dialect: Dialect, columns: int, first_line: int
) -> tuple[tuple[str, ...], int, int]:
    """Return (names, line, lines above it) of the header; a second row of units is joined to the names."""
    if above:
        line, text = above[-1]
        names = _names(text, dialect.separator, line, columns)
        if len(names) == columns:
            _refuse_broken_row(names, dialect, line)
            upper = _find_names_above_units(above, names, dialect, columns)
            if upper:
                joined = tuple(f"{name} {unit}".strip() for name, unit in zip(upper, names, strict=True))
                return joined, above[-2][0], len(above) - 2
            return tuple(names), line, len(above) - 1
        if len(names) > 1 and is_number(names[0], dialect.decimal):
            raise build_refusal(
                "row_length",
                f"Line {first_line} has {columns} columns, line {line} has {len(names)}. Export again.",
                first_line,
            )
        if len(names) > 1:
            raise build_refusal(
                "csv_columns",
                f"The header in line {line} names {len(names)} columns, the data have {columns}. If the file "
                "has decimal commas, export with semicolons between the columns.",
                line,
            )
    for line in range(first_line - 1, 0, -1):
        said = parse_comment(lines[line - 1])
        if said and "fr" in said.lower():
            names = _names(said, dialect.separator, line, columns)
            if len(names) == columns:
                return tuple(names), line, len(above)
    return (), 0, len(above)


def _refuse_broken_row(names: list[str], dialect: Dialect, line: int) -> None:
    """Refuse a line above the data that begins with a number: it is a faulty row of data."""
    if is_number(names[0], dialect.decimal):
        for name in names:
            parse_cell(name, dialect.decimal, line)


def _find_names_above_units(
    above: list[tuple[int, str]], names: list[str], dialect: Dialect, columns: int
) -> list[str]:
    """Return the row of names above a row that holds units only, else []."""
    if len(above) < 2 or not all(name.lower().strip("()[]") in _UNIT_CELLS for name in names):
        return []
    upper = _names(above[-2][1], dialect.separator, above[-2][0], columns)
    return upper if len(upper) == columns else []


def _names(text: str, separator: str, line: int, columns: int) -> list[str]:
    """Return header cells, padded with nameless ones where only empty cells at the end are missing."""
    if separator != " ":
        cells = split_cells(text, separator, line)
        blank_tail = text.count(separator) + 1 >= columns > len(cells)
        return cells + [""] * (columns - len(cells)) if blank_tail else cells
    words: list[str] = []
    for word in text.split():
        if words and word[0] in "([":
            words[-1] += " " + word
        else:
            words.append(word)
    return words
