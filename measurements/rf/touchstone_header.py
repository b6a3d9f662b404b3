"""The head of a Touchstone file: option line and bracketed keywords, read strictly.

Syntax: Touchstone "Rev 1.1" (2002/03, called version 1.0 here), the one-reference-per-port option
line that the 2.1 document calls 1.1, and 2.0 / 2.1 with keywords.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from measurements.errors import BenchnightError
from measurements.rf.bounds import MAX_NUMBER_CHARACTERS, check_reference, refusal

UNITS_HZ = {"hz": 1.0, "khz": 1e3, "mhz": 1e6, "ghz": 1e9}
PARAMETERS = "syzgh"
FORMATS = ("ma", "db", "ri")
NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_COMPLEX = re.compile(r"[-+0-9.e()]*[ij][-+0-9.e()]*", re.IGNORECASE)

EXAMPLE = "# MHz S RI R 50"


@dataclass(frozen=True)
class OptionLine:
    """What the option line says; `references_ohm` has one value, or one per port."""

    unit: str = "ghz"
    parameter: str = "s"
    form: str = "ma"
    references_ohm: tuple[float, ...] = (50.0,)
    line: int = 0


def missing_option_line(line: int) -> BenchnightError:
    """The question to ask where data come before any option line."""
    return refusal(
        "missing_option_line",
        "Which frequency unit, and which format? Data begin in line "
        f"{line} but no option line says so. Put one above the first data line, such as "
        f"'{EXAMPLE}' (unit Hz, kHz, MHz or GHz; S; RI, MA or DB; R and the reference in ohm).",
        line,
    )


def option_line(text: str, line: int) -> OptionLine:
    """Parse `# unit parameter format R n ...`, words in any order, each at most once.

    text: the line without comment, beginning with '#'. Raises BenchnightError sweep.option_line,
    sweep.reference, sweep.complex_reference.
    """
    words = text[1:].lower().split()
    found: dict[str, str] = {}
    references: list[float] = []
    position = 0
    while position < len(words):
        word = words[position]
        position += 1
        kind = _kind_of(word, line)
        if kind in found:
            raise _bad_option(line, f"it says both '{found[kind]}' and '{word}'")
        found[kind] = word
        while kind == "reference" and position < len(words) and _looks_numeric(words[position]):
            references.append(reference(words[position], line))
            position += 1
        if kind == "reference" and not references:
            raise _bad_option(line, "R is not followed by a number")
    return OptionLine(
        found.get("unit", "ghz"),
        found.get("parameter", "s"),
        found.get("form", "ma"),
        tuple(references) or (50.0,),
        line,
    )


def reference(word: str, line: int) -> float:
    """One reference resistance in ohm; complex ones are refused."""
    if len(word) <= MAX_NUMBER_CHARACTERS and NUMBER.fullmatch(word):
        check_reference(float(word), line)
        return float(word)
    if _COMPLEX.fullmatch(word):
        raise refusal(
            "complex_reference",
            f"The reference '{word[:MAX_NUMBER_CHARACTERS]}' in line {line} is complex. "
            "Export the sweep with a real reference, such as R 50.",
            line,
        )
    raise refusal(
        "reference",
        f"The reference '{word[:MAX_NUMBER_CHARACTERS]}' in line {line} is not a number. "
        "Write a resistance in ohm, such as R 50.",
        line,
    )


def _looks_numeric(word: str) -> bool:
    return not word.isalpha() or word in ("nan", "inf", "infinity", "j", "i")


def _kind_of(word: str, line: int) -> str:
    if word in UNITS_HZ:
        return "unit"
    if len(word) == 1 and word in PARAMETERS:
        return "parameter"
    if word in FORMATS:
        return "form"
    if word == "r":
        return "reference"
    raise _bad_option(line, f"'{word[:MAX_NUMBER_CHARACTERS]}' is not a word of an option line")


def _bad_option(line: int, why: str) -> BenchnightError:
    return refusal(
        "option_line",
        f"The option line (line {line}) cannot be read: {why}. It should look like '{EXAMPLE}': "
        "unit Hz, kHz, MHz or GHz; S, Y, Z, G or H; RI, MA or DB; R and the reference in ohm.",
        line,
    )
