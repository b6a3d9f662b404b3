"""What the name of a column says: frequency, S21 in decibels, SWR, reactance, ...

Names are taken apart into words; the vocabulary is that of the trade at large (common practice, no
source). What a name leaves open stays open here: the values may settle it, else the person does.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace

from measurements.errors import BenchnightError
from measurements.rf.sweeps.file_limits import build_refusal
from measurements.rf.sweeps.sweep import Floats

COLUMN_KINDS = (
    "frequency",
    "decibel",
    "loss",
    "magnitude",
    "phase",
    "real",
    "imaginary",
    "swr",
    "return_loss",
    "resistance",
    "reactance",
    "impedance",
    "impedance_phase",
    "value",
    "ignored",
)

COLUMN_UNITS = {
    "frequency": ("hz", "khz", "mhz", "ghz"),
    "phase": ("deg", "rad"),
    "impedance_phase": ("deg", "rad"),
    "magnitude": ("", "linear"),
    "decibel": ("", "gain"),
}

REFLECTION_KINDS = ("swr", "return_loss", "resistance", "reactance", "impedance", "impedance_phase")

# an S that begins a word, or ends one of the words that exporters glue to it (ReS11, angS21, dBS21)
_PARAMETER = re.compile(
    r"(?:(?<![a-z])|(?<=re)|(?<=im)|(?<=db)|(?<=ag)|(?<=ng)|(?<=se)|(?<=rg)|(?<=al)|(?<=in)|(?<=bs))"
    r"s\s?\(?\s*([1-4])\s*,?\s*([1-4])\s*\)?(?![0-9])"
)

_GLUED = re.compile(r"^(freq(?:uency|uenz)?|phase|ang|mag|log|lin)(hz|khz|mhz|ghz|db|deg|rad|mag)$")

_FREQUENCY = ("freq", "frek", "frecuencia", "fréq")

_WORDS = {
    "swr": {"swr", "vswr"},
    "phase": {
        "phase",
        "ang",
        "angle",
        "arg",
        "theta",
        "deg",
        "degree",
        "degrees",
        "rad",
        "radian",
        "radians",
    },
    "real": {"re", "real"},
    "imaginary": {"im", "imag", "imaginary"},
    "resistance": {"r", "rs", "resistance"},
    "reactance": {"x", "xs", "reactance"},
    "impedance": {"z", "impedance"},
    "loss": {"loss", "attenuation", "rejection"},
    "magnitude": {"mag", "magnitude", "abs", "amplitude", "amp", "lin", "linear", "|", "rho"},
    "through": {"gain", "transmission", "insertion", "attenuation", "rejection", "loss"},
    "reflection": {"reflection", "refl", "gamma", "rho"},
}


@dataclass(frozen=True)
class Column:
    """One column of the table.

    name: as in the file; kind: one of KINDS; parameter: "s21", or "" where the kind needs none or
    nobody said; unit: of a frequency or phase, "" where nobody said.
    """

    name: str
    kind: str
    parameter: str = ""
    unit: str = ""


def parse_column_name(name: str) -> Column:
    """Parse a header cell into quantity and unit."""
    words, parameter = _words(name)
    unit = next((word for word in ("hz", "khz", "mhz", "ghz") if word in words), "")
    if _is_frequency(words, unit):
        return Column(name, "frequency", "", unit)
    if words & _WORDS["swr"]:
        return Column(name, "swr", parameter or "s11")
    if words & {"rl", "returnloss"} or {"return", "loss"} <= words:
        return Column(name, "return_loss", parameter or "s11")
    if words & {"dbm", "watt", "mw", "rp", "xp", "time"}:
        return Column(name, "ignored")
    if _is_impedance(words, parameter):
        return _impedance(name, words)
    if not parameter and words & _WORDS["reflection"]:
        parameter = "s11"
    if not parameter and words & _WORDS["through"]:
        parameter = "s21"
    return _ratio(name, words, parameter)


def _words(name: str) -> tuple[set[str], str]:
    """Return the words of a name in lower case, and the S-parameter in it, if any."""
    text = unicodedata.normalize("NFKC", name).lower()
    for mark, word in (
        ("°", " deg "),
        ("ω", " ohm "),
        ("∠", " angle "),
        ("|", " | "),
        ("_", " "),
        ("γ", " gamma "),
    ):
        text = text.replace(mark, word)
    found = _PARAMETER.search(text)
    parameter = ""
    if found:
        parameter = f"s{found[1]}{found[2]}"
        text = f"{text[: found.start()]} {text[found.end() :]}"
    words = set(re.findall(r"[^\W\d]+|\|", text))
    for word in list(words):
        glued = _GLUED.match(word)
        if glued:
            words |= {glued[1], glued[2]}
    return words, parameter


def _is_frequency(words: set[str], unit: str) -> bool:
    named = any(word.startswith(_FREQUENCY) for word in words)
    return named or (bool(unit) and words <= {unit, "f", "in"}) or words == {"f"}


def _is_impedance(words: set[str], parameter: str) -> bool:
    own = _WORDS["impedance"] | _WORDS["resistance"] | _WORDS["reactance"]
    return not parameter and (
        bool(words & own) or ("ohm" in words and bool(words & {"re", "im", "real", "imag"}))
    )


def _impedance(name: str, words: set[str]) -> Column:
    if words & _WORDS["phase"]:
        return Column(name, "impedance_phase", "s11", _angle_unit(words))
    if words & (_WORDS["resistance"] | _WORDS["real"]) and "|" not in words:
        return Column(name, "resistance", "s11")
    if words & (_WORDS["reactance"] | _WORDS["imaginary"]):
        # the size of a reactance without its sign tells nothing that can be computed with
        return Column(name, "ignored") if "|" in words else Column(name, "reactance", "s11")
    return Column(name, "impedance", "s11")


def _ratio(name: str, words: set[str], parameter: str) -> Column:
    """Return columns that hold an S-parameter as decibels, magnitude, angle or parts."""
    if words & _WORDS["phase"] and "db" not in words:
        return Column(name, "phase", parameter, _angle_unit(words))
    if words & _WORDS["real"]:
        return Column(name, "real", parameter)
    if words & _WORDS["imaginary"]:
        return Column(name, "imaginary", parameter)
    if words & _WORDS["loss"]:
        return Column(name, "loss", parameter)
    if "db" in words or {"log", "mag"} <= words:
        return Column(name, "decibel", parameter, "gain" if "gain" in words else "")
    if words & _WORDS["magnitude"]:
        return Column(name, "magnitude", parameter, "linear" if words & {"lin", "linear"} else "")
    return Column(name, "value", parameter) if parameter else Column(name, "ignored")


def _angle_unit(words: set[str]) -> str:
    if words & {"rad", "radian", "radians"}:
        return "rad"
    return "deg" if words & {"deg", "degree", "degrees"} else ""


# What a column name leaves open is settled by its values, or becomes a question to the person.
#
# The reader asks wherever two answers are plausible and would change the numbers.

# Where a sweep with this unit can lie, in that unit: what analysers and their users write.
_PLAUSIBLE = {"hz": (9e3, 3e9), "khz": (100.0, 1e6), "mhz": (9e-3, 3e3), "ghz": (0.1, 10.0)}

_HZ = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}

_LINEAR_MOST = 1.05  # a passive device's linear magnitude, with some error of calibration

_RADIANS_MOST = 6.4  # a little more than two pi


@dataclass(frozen=True)
class ColumnQuestion:
    """Something only the person knows. code: without "sweep."; column counts from 1, 0 for the whole file."""

    code: str
    text: str
    column: int = 0
    line: int | None = None

    def refused(self) -> BenchnightError:
        """Return the refusal that puts the question."""
        return build_refusal(self.code, self.text, self.line)


def settle_columns(
    columns: list[Column], values: list[Floats | None], line: int
) -> tuple[list[Column], list[ColumnQuestion]]:
    """Return columns with units and parameters filled in where they are certain, and what stays open.

    columns: as named; values: (F,) of each, None where cells are no numbers; line: of the header, or
    of the first data where there is none.
    """
    settled: list[Column] = []
    questions: list[ColumnQuestion] = []
    for index, (column, data) in enumerate(zip(columns, values, strict=True)):
        known, question = _settle_column(_inherit_parameter(column, settled), data, index + 1, line)
        settled.append(known)
        if question:
            questions.append(question)
    return settled, questions


def _inherit_parameter(column: Column, before: list[Column]) -> Column:
    """Return a phase or imaginary part without parameter belongs to the column on its left."""
    if column.parameter or not before or column.kind not in ("phase", "imaginary"):
        return column
    left = before[-1]
    if column.kind == "phase" and left.kind == "impedance":
        return replace(column, kind="impedance_phase", parameter="s11")
    partners = (
        ("real",) if column.kind == "imaginary" else ("decibel", "magnitude", "loss", "return_loss", "value")
    )
    return replace(column, parameter=left.parameter) if left.kind in partners else column


def _settle_column(
    column: Column, data: Floats | None, number: int, line: int
) -> tuple[Column, ColumnQuestion | None]:
    if column.kind == "ignored" or data is None:
        return column, None
    if column.kind == "frequency":
        return (column, None) if column.unit else _with_frequency_unit(column, data, number, line)
    if not column.parameter:
        return column, ColumnQuestion(
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
        return column, ColumnQuestion(
            "csv_sign",
            f"Column {number} ('{column.name[:40]}') has positive decibels only: is it a loss or a gain? "
            "Name it so in the header, such as 'S21 loss dB' or 'S21 gain dB'.",
            number,
            line,
        )
    return column, None


def _with_frequency_unit(
    column: Column, data: Floats, number: int, line: int
) -> tuple[Column, ColumnQuestion | None]:
    low, high = float(data.min()), float(data.max())
    fits = [unit for unit, (least, most) in _PLAUSIBLE.items() if least <= low and high <= most]
    if len(fits) == 1:
        return replace(column, unit=fits[0]), None
    return column, ColumnQuestion(
        "csv_frequency_unit",
        f"Which unit has the frequency in column {number} ({low:g} to {high:g})? "
        "Write it into the header, such as 'frequency MHz' (Hz, kHz, MHz or GHz).",
        number,
        line,
    )


def _with_angle_unit(
    column: Column, data: Floats, number: int, line: int
) -> tuple[Column, ColumnQuestion | None]:
    if abs(data).max() > _RADIANS_MOST:
        return replace(column, unit="deg"), None
    return column, ColumnQuestion(
        "csv_phase_unit",
        f"Is the phase in column {number} ('{column.name[:40]}') in degrees or radians? "
        "Write it into the header, such as 'S21 phase deg'.",
        number,
        line,
    )


def _with_scale(column: Column, data: Floats, number: int, line: int) -> tuple[Column, ColumnQuestion | None]:
    """Return decibels or linear: below -1.05 only decibels fit; a magnitude from 0 to 1.05 is linear."""
    low, high = float(data.min()), float(data.max())
    if low < -_LINEAR_MOST or (low < 0 and column.kind == "magnitude"):
        return replace(column, kind="decibel", unit="gain"), None
    if column.kind == "magnitude" and high <= _LINEAR_MOST:
        return replace(column, unit="linear"), None
    return column, ColumnQuestion(
        "csv_scale",
        f"Column {number} ('{column.name[:40]}'): decibels, a linear ratio or a real part? "
        "Name it in the header, such as 'S21 dB' or 'S21 linear'.",
        number,
        line,
    )


def get_hz_per_unit(unit: str) -> float:
    """Return Hz per unit of a frequency column."""
    return _HZ[unit]
