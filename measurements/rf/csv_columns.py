"""What the name of a column says: frequency, S21 in decibels, SWR, reactance, ...

Names are taken apart into words; the vocabulary is that of the trade at large (common practice, no
source). What a name leaves open stays open here: the values may settle it, else the person does.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

KINDS = (
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
UNITS = {
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


def column_of(name: str) -> Column:
    """What a header cell says."""
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
    """The words of a name in lower case, and the S-parameter in it, if any."""
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
    """Columns that hold an S-parameter as decibels, magnitude, angle or parts."""
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
