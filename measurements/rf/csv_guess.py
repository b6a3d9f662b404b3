"""How a CSV file is understood, in a form that a page can show and a person can confirm or mend."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from measurements.errors import BenchnightError
from measurements.rf.bounds import MAX_LINES, check_reference, refusal
from measurements.rf.csv_cells import DECIMALS, MAX_COLUMNS, SEPARATOR_NAMES, SEPARATORS
from measurements.rf.csv_columns import KINDS, UNITS, Column
from measurements.rf.csv_questions import Question

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
    questions: tuple[Question, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """JSON-safe; `from_dict` takes it back."""
        return asdict(self) | {
            "columns": [asdict(column) for column in self.columns],
            "questions": [asdict(question) for question in self.questions],
        }

    def sentences(self) -> tuple[str, ...]:
        """The guess in plain words, one sentence for the file and one for each column used."""
        header = f"names in line {self.header_line}" if self.header_line else "no line of names"
        file = (
            f"CSV: columns separated by {SEPARATOR_NAMES[self.separator]}, decimal {_MARKS[self.decimal]}, "
            f"{header}, data from line {self.first_line} on, reference {self.z0_ohm:g} ohm assumed."
        )
        said = (_said(number, column) for number, column in enumerate(self.columns, 1))
        return (file, *(sentence for sentence in said if sentence))


def _said(number: int, column: Column) -> str:
    if column.kind == "ignored":
        return ""
    unit = f" in {_UNIT_NAMES[column.unit]}" if column.unit in _UNIT_NAMES else ""
    if column.kind == "frequency":
        return f"Column {number} is the frequency{unit}."
    return f"Column {number} is {(column.parameter or 'unnamed').upper()} {_KIND_NAMES[column.kind]}{unit}."


def from_dict(posted: Mapping[str, Any]) -> CsvGuess:
    """A guess that came back from a page. Raises BenchnightError `sweep.csv_guess` on nonsense."""
    try:
        columns = tuple(_column(item) for item in posted["columns"])
        guess = CsvGuess(
            separator=_one_of(posted["separator"], SEPARATORS),
            decimal=_one_of(posted["decimal"], DECIMALS),
            first_line=_counted(posted["first_line"], least=1),
            columns=columns,
            header_line=_counted(posted.get("header_line", 0), least=0),
            z0_ohm=float(posted.get("z0_ohm", 50.0)),
        )
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError):
        raise _bad_guess() from None
    check_reference(guess.z0_ohm, None)
    if not 2 <= len(columns) <= MAX_COLUMNS:
        raise _bad_guess()
    return guess


def _column(item: Mapping[str, Any]) -> Column:
    kind = _one_of(item["kind"], KINDS)
    unit = _one_of(item.get("unit", ""), ("", *UNITS.get(kind, ())))
    parameter = _one_of(item.get("parameter", ""), tuple(_PARAMETERS))
    return Column(str(item.get("name", ""))[:200], kind, parameter, unit)


def _one_of(value: object, choices: tuple[str, ...]) -> str:
    if not isinstance(value, str) or value not in choices:
        raise ValueError(value)
    return value


def _counted(value: object, least: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= MAX_LINES + 1:
        raise ValueError(value)
    return value


def _bad_guess() -> BenchnightError:
    return refusal("csv_guess", "The confirmed meaning of the columns cannot be used. Choose it again.")
