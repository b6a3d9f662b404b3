"""What a column name leaves open is settled by its values, or becomes a question to the person.

A question is asked wherever two answers are plausible and would change the numbers.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from measurements.errors import BenchnightError
from measurements.rf.bounds import refusal
from measurements.rf.csv_columns import Column
from measurements.rf.sweep import Floats

# Where a sweep with this unit can lie, in that unit: what analysers and their users write.
_PLAUSIBLE = {"hz": (9e3, 3e9), "khz": (100.0, 1e6), "mhz": (9e-3, 3e3), "ghz": (0.1, 10.0)}
_HZ = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
_LINEAR_MOST = 1.05  # a passive device's linear magnitude, with some error of calibration
_RADIANS_MOST = 6.4  # a little more than two pi


@dataclass(frozen=True)
class Question:
    """Something only the person knows. code: without "sweep."; column counts from 1, 0 for the whole file."""

    code: str
    text: str
    column: int = 0
    line: int | None = None

    def refused(self) -> BenchnightError:
        """The refusal that puts the question."""
        return refusal(self.code, self.text, self.line)


def settle(
    columns: list[Column], values: list[Floats | None], line: int
) -> tuple[list[Column], list[Question]]:
    """Columns with units and parameters filled in where they are certain, and what stays open.

    columns: as named; values: (F,) of each, None where cells are no numbers; line: of the header, or
    of the first data where there is none.
    """
    settled: list[Column] = []
    questions: list[Question] = []
    for index, (column, data) in enumerate(zip(columns, values, strict=True)):
        known, question = _settled(_inherited(column, settled), data, index + 1, line)
        settled.append(known)
        if question:
            questions.append(question)
    return settled, questions


def _inherited(column: Column, before: list[Column]) -> Column:
    """A phase or imaginary part without parameter belongs to the column on its left."""
    if column.parameter or not before or column.kind not in ("phase", "imaginary"):
        return column
    left = before[-1]
    if column.kind == "phase" and left.kind == "impedance":
        return replace(column, kind="impedance_phase", parameter="s11")
    partners = (
        ("real",) if column.kind == "imaginary" else ("decibel", "magnitude", "loss", "return_loss", "value")
    )
    return replace(column, parameter=left.parameter) if left.kind in partners else column


def _settled(column: Column, data: Floats | None, number: int, line: int) -> tuple[Column, Question | None]:
    if column.kind == "ignored" or data is None:
        return column, None
    if column.kind == "frequency":
        return (column, None) if column.unit else _with_frequency_unit(column, data, number, line)
    if not column.parameter:
        return column, Question(
            "csv_parameter",
            f"Column {number} ('{column.name[:40]}'): is it S11 or S21? Name it in the header, "
            "such as 'S21 dB' or 'S11 phase deg'.",
            number,
            line,
        )
    if column.kind in ("phase", "impedance_phase") and not column.unit:
        return _with_angle_unit(column, data, number, line)
    if column.kind == "value" or (column.kind == "magnitude" and not column.unit):
        return _with_scale(column, data, number, line)
    if column.kind == "decibel" and not column.unit and data.min() >= 0 and data.max() > 1:
        return column, Question(
            "csv_sign",
            f"Column {number} ('{column.name[:40]}') has positive decibels only: is it a loss or a gain? "
            "Name it so in the header, such as 'S21 loss dB' or 'S21 gain dB'.",
            number,
            line,
        )
    return column, None


def _with_frequency_unit(
    column: Column, data: Floats, number: int, line: int
) -> tuple[Column, Question | None]:
    low, high = float(data.min()), float(data.max())
    fits = [unit for unit, (least, most) in _PLAUSIBLE.items() if least <= low and high <= most]
    if len(fits) == 1:
        return replace(column, unit=fits[0]), None
    return column, Question(
        "csv_frequency_unit",
        f"Which unit has the frequency in column {number} ({low:g} to {high:g})? "
        "Write it into the header, such as 'frequency MHz' (Hz, kHz, MHz or GHz).",
        number,
        line,
    )


def _with_angle_unit(column: Column, data: Floats, number: int, line: int) -> tuple[Column, Question | None]:
    if abs(data).max() > _RADIANS_MOST:
        return replace(column, unit="deg"), None
    return column, Question(
        "csv_phase_unit",
        f"Is the phase in column {number} ('{column.name[:40]}') in degrees or radians? "
        "Write it into the header, such as 'S21 phase deg'.",
        number,
        line,
    )


def _with_scale(column: Column, data: Floats, number: int, line: int) -> tuple[Column, Question | None]:
    """Decibels or linear: below -1.05 only decibels fit; a magnitude from 0 to 1.05 is linear."""
    low, high = float(data.min()), float(data.max())
    if low < -_LINEAR_MOST or (low < 0 and column.kind == "magnitude"):
        return replace(column, kind="decibel", unit="gain"), None
    if column.kind == "magnitude" and high <= _LINEAR_MOST:
        return replace(column, unit="linear"), None
    return column, Question(
        "csv_scale",
        f"Column {number} ('{column.name[:40]}'): decibels, a linear ratio or a real part? "
        "Name it in the header, such as 'S21 dB' or 'S21 linear'.",
        number,
        line,
    )


def scale_hz(unit: str) -> float:
    """Hz per unit of a frequency column."""
    return _HZ[unit]
