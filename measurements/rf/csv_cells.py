"""One line of a CSV file -> cells, and one cell -> a number, under a given dialect."""

from __future__ import annotations

import csv
import math
import re

from measurements.rf.bounds import MAX_NUMBER_CHARACTERS, refusal

SEPARATORS = (",", ";", "\t", " ")
SEPARATOR_NAMES = {",": "comma", ";": "semicolon", "\t": "tab", " ": "spaces"}
DECIMALS = (".", ",")
MAX_COLUMNS = 64

_EXPONENT = r"(?:[eE][+-]?[0-9]+)?"
_NUMBERS = {
    ".": re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)" + _EXPONENT),
    ",": re.compile(r"[+-]?(?:[0-9]+(?:,[0-9]+)?|,[0-9]+)" + _EXPONENT),
}
_THOUSANDS = re.compile(r"[+-]?[0-9]{1,3}(?:[.,' \u00a0\u2009\u202f][0-9]{3})+(?:[.,][0-9]+)?")
_NOT_FINITE = ("nan", "inf", "infinity", "#num!", "#div/0!", "#n/a", "-nan", "-inf", "+inf")


def cells_of(line: str, separator: str, number: int) -> list[str]:
    """The cells of a line, stripped; empty cells at its end are dropped.

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
        raise refusal(
            "csv_columns", f"Line {number} has {len(cells)} columns, more than {MAX_COLUMNS}.", number
        )
    return cells


def _quoted(line: str, separator: str, number: int) -> list[str]:
    try:
        rows = list(csv.reader([line.strip(" ")], delimiter=separator, skipinitialspace=True, strict=True))
    except csv.Error:
        raise refusal("csv_quotes", f"The quotation marks in line {number} do not pair up.", number) from None
    return [cell.strip() for cell in rows[0]] if rows else []


def is_number(cell: str, decimal: str) -> bool:
    """Whether a cell is a plain number with this decimal mark."""
    return len(cell) <= MAX_NUMBER_CHARACTERS and bool(_NUMBERS[decimal].fullmatch(_plain(cell)))


def looks_grouped(cell: str) -> bool:
    """Whether a cell looks like a number with thousands marks (1,000,000 or 1.000,5)."""
    return bool(_THOUSANDS.fullmatch(cell))


def number_in(cell: str, decimal: str, line: int) -> float:
    """The number in a cell.

    Raises BenchnightError: sweep.number_too_long, sweep.not_finite, sweep.csv_thousands,
    sweep.decimal_comma, sweep.csv_empty_cell, sweep.not_a_number.
    """
    plain = _plain(cell)
    if len(plain) <= MAX_NUMBER_CHARACTERS and _NUMBERS[decimal].fullmatch(plain):
        value = float(plain.replace(",", "."))
        if math.isfinite(value):
            return value
    shown = cell[:MAX_NUMBER_CHARACTERS]
    if not cell:
        raise refusal("csv_empty_cell", f"A cell in line {line} is empty. Export the sweep again.", line)
    if len(cell) > MAX_NUMBER_CHARACTERS:
        raise refusal("number_too_long", f"'{shown}...' in line {line} is too long for a number.", line)
    if cell.lower() in _NOT_FINITE or _NUMBERS[decimal].fullmatch(plain):
        raise refusal("not_finite", f"'{shown}' in line {line} is no measured value. Sweep again.", line)
    if looks_grouped(cell):
        raise refusal(
            "csv_thousands",
            f"'{shown}' in line {line} can be read in two ways: is a mark in it for thousands or the "
            "decimal mark? Export again without thousands marks, and with one decimal mark throughout.",
            line,
        )
    if any(_NUMBERS[mark].fullmatch(plain) for mark in DECIMALS):
        raise refusal(
            "decimal_comma",
            f"'{shown}' in line {line} has another decimal mark than the lines above. Use one throughout.",
            line,
        )
    raise refusal("not_a_number", f"'{shown}' in line {line} is not a number. Export the sweep again.", line)


def _plain(cell: str) -> str:
    """Spreadsheets write a true minus sign at times."""
    return cell.replace("\u2212", "-", 1) if cell.startswith("\u2212") else cell
