"""CSV bytes -> Sweep, by a guess that is stated in its notes, or by one that a person confirmed.

Of several columns that tell the same S-parameter the one with most in it is taken: real and
imaginary part, then magnitude and phase, then resistance and reactance, then a size alone (dB, SWR,
return loss). A file whose sizes have no phase gives a sweep that is `magnitude_only`; sizes beside
complete columns are left out, because one sweep has phases or has none.
"""

from __future__ import annotations

from array import array
from dataclasses import replace

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.bounds import check_frequencies, check_points, check_values, in_hz, refusal
from measurements.rf.csv_cells import cells_of, number_in
from measurements.rf.csv_columns import KINDS, REFLECTION_KINDS, Column, column_of
from measurements.rf.csv_dialect import Layout, contents, find_layout
from measurements.rf.csv_guess import CsvGuess, from_dict
from measurements.rf.csv_questions import Question, scale_hz, settle
from measurements.rf.csv_values import parameters_of
from measurements.rf.sweep import Floats, Sweep
from measurements.rf.text_lines import lines_of
from measurements.rf.unmeasured import measured_columns

__all__ = ["KINDS", "REFLECTION_KINDS", "Column", "CsvGuess", "Question", "from_dict", "guess", "read_csv"]

MIN_STOP_HZ = 1e3  # a sweep that ends below 1 kHz has the wrong unit or thousands marks


def guess(data: bytes) -> CsvGuess:
    """How the file would be read; what stays open is in `questions`.

    Raises BenchnightError where there is no table to ask about.
    """
    return _guess(lines_of(data))


def _guess(lines: list[str]) -> CsvGuess:
    layout = find_layout(lines)
    named = [column_of(name) for name in layout.header] or _unnamed(layout)
    if named[0].kind == "ignored" and all(column.kind != "frequency" for column in named):
        named[0] = replace(named[0], kind="frequency")
    dialect = layout.dialect
    guess = CsvGuess(dialect.separator, dialect.decimal, layout.first_line, tuple(named), layout.header_line)
    used = [index for index, column in enumerate(named) if column.kind != "ignored"]
    table, _ = _numbers(lines, guess, used)
    values: list[Floats | None] = [None] * len(named)
    for position, index in enumerate(used):
        values[index] = table[:, position]
    line = layout.header_line or layout.first_line
    settled, questions = settle(named, values, line)
    if not layout.header:
        questions = [*(q for q in questions if q.code == "csv_frequency_unit"), _no_header(layout)]
    elif all(column.kind in ("ignored", "frequency") for column in settled):
        questions.append(_nothing_known(line))
    return replace(guess, columns=tuple(settled), questions=tuple(questions))


def _unnamed(layout: Layout) -> list[Column]:
    return [Column("", "frequency")] + [Column("", "ignored")] * (layout.columns - 1)


def _no_header(layout: Layout) -> Question:
    return Question(
        "csv_no_header",
        f"What do the {layout.columns} columns mean? No line above the data (line {layout.first_line}) names "
        "them. Add one, such as 'frequency MHz, S21 dB, S21 phase deg'.",
        0,
        layout.first_line,
    )


def _nothing_known(line: int) -> Question:
    return Question(
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
    lines = lines_of(data)
    taken = guess or _guess(lines)
    if taken.questions:
        raise taken.questions[0].refused()
    columns = _usable(taken)
    table, starts = _numbers(lines, taken, [index for index, _ in columns])
    where = next(k for k, (_, column) in enumerate(columns) if column.kind == "frequency")
    freq_hz = in_hz(table[:, where], scale_hz(columns[where][1].unit))
    check_frequencies(freq_hz, starts.__getitem__)
    if freq_hz[-1] < MIN_STOP_HZ:
        raise refusal(
            "frequency_range",
            f"The sweep ends at {freq_hz[-1]:g} Hz. Check the frequency unit, and that no mark for "
            "thousands was taken for a decimal mark.",
            starts[-1],
        )
    return _sweep(taken, freq_hz, [column for _, column in columns], table, starts)


def _usable(guess: CsvGuess) -> list[tuple[int, Column]]:
    """(index, column) of every column that means something; one frequency, no meaning twice."""
    columns = [(index, column) for index, column in enumerate(guess.columns) if column.kind != "ignored"]
    line = guess.header_line or guess.first_line
    meanings = [(column.kind, column.parameter) for _, column in columns]
    if [kind for kind, _ in meanings].count("frequency") != 1 or len(columns) < 2:
        raise refusal("csv_columns", f"Line {line} must name one frequency column and one value.", line)
    for index, column in columns:
        if meanings.count((column.kind, column.parameter)) > 1:
            raise refusal(
                "csv_columns", f"Column {index + 1} says the same as another one. Remove one of them.", line
            )
        if column.kind == "value" or (column.kind != "frequency" and not column.parameter):
            raise refusal("csv_columns", f"Say what column {index + 1} is.", line)
        if column.kind in ("frequency", "phase", "impedance_phase") and not column.unit:
            raise refusal("csv_columns", f"Say which unit column {index + 1} has.", line)
        if column.kind in REFLECTION_KINDS and column.parameter[1] != column.parameter[2]:
            raise refusal("csv_columns", f"Column {index + 1} can only be a reflection, such as S11.", line)
    return columns


def _numbers(lines: list[str], guess: CsvGuess, used: list[int]) -> tuple[Floats, list[int]]:
    """((F, len(used)) numbers, line of each row) from `first_line` to the end or a closing END."""
    values, starts = array("d"), list[int]()
    width = len(guess.columns)
    for line, text in contents(lines, guess.first_line):
        cells = cells_of(text, guess.separator, line)
        if len(cells) < 2 and text.strip().lower() == "end":
            break
        missing = [index for index in used if index >= len(cells)]
        if missing or len(cells) > width:
            raise _miscounted(line, len(cells), width)
        values.extend(number_in(cells[index], guess.decimal, line) for index in used)
        starts.append(line)
        check_points(len(starts))
    if not starts:
        raise refusal("no_data", "The file has no data. Save the sweep again.", guess.first_line)
    return np.frombuffer(values, dtype=np.float64).reshape(-1, len(used)), starts


def _miscounted(line: int, count: int, width: int) -> BenchnightError:
    return refusal(
        "row_length",
        f"Line {line} has {count} columns where the table has {width}. Send a file with one sweep in it.",
        line,
    )


def _sweep(
    guess: CsvGuess, freq_hz: Floats, columns: list[Column], table: Floats, starts: list[int]
) -> Sweep:
    found = parameters_of(columns, table, guess.z0_ohm, starts.__getitem__)
    ports = max(int(digit) for name in found.complexes for digit in name[1:])
    s = np.zeros((len(freq_hz), ports, ports), dtype=np.complex128)
    present = np.zeros((ports, ports), dtype=np.bool_)
    for name, values in found.complexes.items():
        i, j = int(name[1]) - 1, int(name[2]) - 1
        s[:, i, j], present[i, j] = values, True
    check_values(s, starts.__getitem__)
    measured, sentences = measured_columns(s)
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
