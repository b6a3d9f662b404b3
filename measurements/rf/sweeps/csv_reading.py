"""How a CSV file is understood, in a form that a page can show and a person can confirm or mend."""

from __future__ import annotations

from array import array
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.sweeps.csv_columns import (
    COLUMN_KINDS,
    COLUMN_UNITS,
    REFLECTION_KINDS,
    Column,
    ColumnQuestion,
    get_hz_per_unit,
    parse_column_name,
    settle_columns,
)
from measurements.rf.sweeps.csv_layout import (
    DECIMALS,
    MAX_COLUMNS,
    SEPARATOR_NAMES,
    SEPARATORS,
    Layout,
    find_layout,
    iterate_content_lines,
    parse_cell,
    split_cells,
)
from measurements.rf.sweeps.csv_values import compute_parameters
from measurements.rf.sweeps.file_limits import (
    MAX_LINES,
    build_refusal,
    check_frequencies,
    check_points,
    check_reference,
    check_values,
    convert_to_hz,
)
from measurements.rf.sweeps.sweep import Floats, Sweep
from measurements.rf.sweeps.text_lines import decode_lines
from measurements.rf.sweeps.unmeasured_columns import find_measured_columns

_PARAMETERS = frozenset(f"s{i}{j}" for i in range(1, 5) for j in range(1, 5)) | {""}

_MARKS = {".": "point", ",": "comma"}

_UNIT_NAMES = {"hz": "Hz", "khz": "kHz", "mhz": "MHz", "ghz": "GHz", "deg": "degrees", "rad": "radians"}

_KIND_NAMES = {
    "decibel": "in decibels",
    "loss": "as a loss in decibels",
    "magnitude": "as a linear ratio",
    "phase": "phase",
    "real": "real part",
    "imaginary": "imaginary part",
    "swr": "from the SWR",
    "return_loss": "from the return loss in decibels",
    "resistance": "from the resistance in ohm",
    "reactance": "from the reactance in ohm",
    "impedance": "from the size of the impedance in ohm",
    "impedance_phase": "from the phase of the impedance",
    "value": "in an unknown scale",
}


@dataclass(frozen=True)
class CsvGuess:
    """Separator, decimal mark, where the data begin, and the meaning of every column.

    separator: "," ";" tab or " " (any run of spaces); decimal: "." or ","; first_line: of the data,
    from 1; columns: in file order; header_line: 0 where there is no header; z0_ohm: the reference,
    which a CSV file does not carry; questions: what could not be settled.
    """

    separator: str
    decimal: str
    first_line: int
    columns: tuple[Column, ...]
    header_line: int = 0
    z0_ohm: float = 50.0
    questions: tuple[ColumnQuestion, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return JSON-safe; `parse_guess` takes it back."""
        return asdict(self) | {
            "columns": [asdict(column) for column in self.columns],
            "questions": [asdict(question) for question in self.questions],
        }

    def sentences(self) -> tuple[str, ...]:
        """Return the guess in plain words, one sentence for the file and one for each column used."""
        header = f"names in line {self.header_line}" if self.header_line else "no line of names"
        file = (
            f"CSV: columns separated by {SEPARATOR_NAMES[self.separator]}, decimal {_MARKS[self.decimal]}, "
            f"{header}, data from line {self.first_line} on, reference {self.z0_ohm:g} ohm assumed."
        )
        said = (_describe_column(number, column) for number, column in enumerate(self.columns, 1))
        return (file, *(sentence for sentence in said if sentence))


def _describe_column(number: int, column: Column) -> str:
    if column.kind == "ignored":
        return ""
    unit = f" in {_UNIT_NAMES[column.unit]}" if column.unit in _UNIT_NAMES else ""
    if column.kind == "frequency":
        return f"Column {number} is the frequency{unit}."
    return f"Column {number} is {(column.parameter or 'unnamed').upper()} {_KIND_NAMES[column.kind]}{unit}."


def parse_guess(posted: Mapping[str, Any]) -> CsvGuess:
    """Return a guess that came back from a page. Raises BenchnightError `sweep.csv_guess` on nonsense."""
    try:
        columns = tuple(_parse_column(item) for item in posted["columns"])
        guess = CsvGuess(
            separator=_require_choice(posted["separator"], SEPARATORS),
            decimal=_require_choice(posted["decimal"], DECIMALS),
            first_line=_require_line_number(posted["first_line"], least=1),
            columns=columns,
            header_line=_require_line_number(posted.get("header_line", 0), least=0),
            z0_ohm=float(posted.get("z0_ohm", 50.0)),
        )
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError):
        raise _bad_guess() from None
    check_reference(guess.z0_ohm, None)
    if not 2 <= len(columns) <= MAX_COLUMNS:
        raise _bad_guess()
    return guess


def _parse_column(item: Mapping[str, Any]) -> Column:
    kind = _require_choice(item["kind"], COLUMN_KINDS)
    unit = _require_choice(item.get("unit", ""), ("", *COLUMN_UNITS.get(kind, ())))
    parameter = _require_choice(item.get("parameter", ""), tuple(_PARAMETERS))
    return Column(str(item.get("name", ""))[:200], kind, parameter, unit)


def _require_choice(value: object, choices: tuple[str, ...]) -> str:
    if not isinstance(value, str) or value not in choices:
        raise ValueError(value)
    return value


def _require_line_number(value: object, least: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= MAX_LINES + 1:
        raise ValueError(value)
    return value


def _bad_guess() -> BenchnightError:
    return build_refusal("csv_guess", "The confirmed meaning of the columns cannot be used. Choose it again.")


# CSV bytes -> Sweep, by a guess that is stated in its notes, or by one that a person confirmed.
#
# Of several columns that tell the same S-parameter the one with most in it is taken: real and
# imaginary part, then magnitude and phase, then resistance and reactance, then a size alone (dB, SWR,
# return loss). A file whose sizes have no phase gives a sweep that is `magnitude_only`; sizes beside
# complete columns are left out, because one sweep has phases or has none.

__all__ = [
    "COLUMN_KINDS",
    "REFLECTION_KINDS",
    "Column",
    "ColumnQuestion",
    "CsvGuess",
    "guess_csv",
    "parse_guess",
    "read_csv",
]

MIN_STOP_HZ = 1e3  # a sweep that ends below 1 kHz has the wrong unit or thousands marks


def guess_csv(data: bytes) -> CsvGuess:
    """Describe how the file would be read; open points are in `questions`.

    Raises BenchnightError where there is no table to ask about.
    """
    return _guess_lines(decode_lines(data))


def _guess_lines(lines: list[str]) -> CsvGuess:
    layout = find_layout(lines)
    named = [parse_column_name(name) for name in layout.header] or _unnamed(layout)
    if named[0].kind == "ignored" and all(column.kind != "frequency" for column in named):
        named[0] = replace(named[0], kind="frequency")
    dialect = layout.dialect
    guess = CsvGuess(dialect.separator, dialect.decimal, layout.first_line, tuple(named), layout.header_line)
    used = [index for index, column in enumerate(named) if column.kind != "ignored"]
    table, _ = _read_numbers(lines, guess, used)
    values: list[Floats | None] = [None] * len(named)
    for position, index in enumerate(used):
        values[index] = table[:, position]
    line = layout.header_line or layout.first_line
    settled, questions = settle_columns(named, values, line)
    if not layout.header:
        questions = [*(q for q in questions if q.code == "csv_frequency_unit"), _no_header(layout)]
    elif all(column.kind in ("ignored", "frequency") for column in settled):
        questions.append(_nothing_known(line))
    return replace(guess, columns=tuple(settled), questions=tuple(questions))


def _unnamed(layout: Layout) -> list[Column]:
    return [Column("", "frequency")] + [Column("", "ignored")] * (layout.columns - 1)


def _no_header(layout: Layout) -> ColumnQuestion:
    return ColumnQuestion(
        "csv_no_header",
        f"What do the {layout.columns} columns mean? No line above the data (line {layout.first_line}) names "
        "them. Add one, such as 'frequency MHz, S21 dB, S21 phase deg'.",
        0,
        layout.first_line,
    )


def _nothing_known(line: int) -> ColumnQuestion:
    return ColumnQuestion(
        "csv_columns",
        f"What do the columns mean? No name in line {line} is known. Name them such as "
        "'frequency MHz, S21 dB, S21 phase deg', 'SWR', 'return loss dB', 'R' and 'X'.",
        0,
        line,
    )


def read_csv(data: bytes, guess: CsvGuess | None = None) -> Sweep:
    """Read a CSV sweep. guess: as confirmed by a person; by default the file's own is used.

    Raises BenchnightError (field "sweep", the line): what the dialect, the cells and the columns
    raise, or the first open question.
    """
    lines = decode_lines(data)
    taken = guess or _guess_lines(lines)
    if taken.questions:
        raise taken.questions[0].refused()
    columns = _select_columns(taken)
    table, starts = _read_numbers(lines, taken, [index for index, _ in columns])
    where = next(k for k, (_, column) in enumerate(columns) if column.kind == "frequency")
    freq_hz = convert_to_hz(table[:, where], get_hz_per_unit(columns[where][1].unit))
    check_frequencies(freq_hz, starts.__getitem__)
    if freq_hz[-1] < MIN_STOP_HZ:
        raise build_refusal(
            "frequency_range",
            f"The sweep ends at {freq_hz[-1]:g} Hz. Check the frequency unit, and that no mark for "
            "thousands was taken for a decimal mark.",
            starts[-1],
        )
    return _build_sweep(taken, freq_hz, [column for _, column in columns], table, starts)


def _select_columns(guess: CsvGuess) -> list[tuple[int, Column]]:
    """Return (index, column) of every column that means something; one frequency, no meaning twice."""
    columns = [(index, column) for index, column in enumerate(guess.columns) if column.kind != "ignored"]
    line = guess.header_line or guess.first_line
    meanings = [(column.kind, column.parameter) for _, column in columns]
    if [kind for kind, _ in meanings].count("frequency") != 1 or len(columns) < 2:
        raise build_refusal("csv_columns", f"Line {line} must name one frequency column and one value.", line)
    for index, column in columns:
        if meanings.count((column.kind, column.parameter)) > 1:
            raise build_refusal(
                "csv_columns", f"Column {index + 1} says the same as another one. Remove one of them.", line
            )
        if column.kind == "value" or (column.kind != "frequency" and not column.parameter):
            raise build_refusal("csv_columns", f"Say what column {index + 1} is.", line)
        if column.kind in ("frequency", "phase", "impedance_phase") and not column.unit:
            raise build_refusal("csv_columns", f"Say which unit column {index + 1} has.", line)
        if column.kind in REFLECTION_KINDS and column.parameter[1] != column.parameter[2]:
            raise build_refusal(
                "csv_columns", f"Column {index + 1} can only be a reflection, such as S11.", line
            )
    return columns


def _read_numbers(lines: list[str], guess: CsvGuess, used: list[int]) -> tuple[Floats, list[int]]:
    """Return ((F, len(used)) numbers, line of each row) from `first_line` to the end or a closing END."""
    values, starts = array("d"), list[int]()
    width = len(guess.columns)
    for line, text in iterate_content_lines(lines, guess.first_line):
        cells = split_cells(text, guess.separator, line)
        if len(cells) < 2 and text.strip().lower() == "end":
            break
        missing = [index for index in used if index >= len(cells)]
        if missing or len(cells) > width:
            raise _miscounted(line, len(cells), width)
        values.extend(parse_cell(cells[index], guess.decimal, line) for index in used)
        starts.append(line)
        check_points(len(starts))
    if not starts:
        raise build_refusal("no_data", "The file has no data. Save the sweep again.", guess.first_line)
    return np.frombuffer(values, dtype=np.float64).reshape(-1, len(used)), starts


def _miscounted(line: int, count: int, width: int) -> BenchnightError:
    return build_refusal(
        "row_length",
        f"Line {line} has {count} columns where the table has {width}. Send a file with one sweep in it.",
        line,
    )


def _build_sweep(
    guess: CsvGuess, freq_hz: Floats, columns: list[Column], table: Floats, starts: list[int]
) -> Sweep:
    found = compute_parameters(columns, table, guess.z0_ohm, starts.__getitem__)
    ports = max(int(digit) for name in found.complexes for digit in name[1:])
    s = np.zeros((len(freq_hz), ports, ports), dtype=np.complex128)
    present = np.zeros((ports, ports), dtype=np.bool_)
    for name, values in found.complexes.items():
        i, j = int(name[1]) - 1, int(name[2]) - 1
        s[:, i, j], present[i, j] = values, True
    check_values(s, starts.__getitem__)
    measured, sentences = find_measured_columns(s)
    if not present.all():
        sentences = _zero_columns(present & ~measured)
    return Sweep(
        freq_hz=freq_hz,
        s=s,
        z0_ohm=np.full(ports, guess.z0_ohm),
        measured=present & measured,
        source="csv",
        notes=(*guess.sentences(), *found.notes, *sentences),
        magnitude_only=found.magnitude_only,
    )


def _zero_columns(zero: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> tuple[str, ...]:
    names = [f"S{i + 1}{j + 1}" for i, j in zip(*np.nonzero(zero), strict=True)]
    return (f"Zero at every point, so not measured and not used: {', '.join(names)}.",) if names else ()
