"""What an analyser is taken to be, line by line: stated, measured, or assumed."""

from __future__ import annotations

from dataclasses import dataclass
from math import log10
from typing import Any

from measurements.rf.analyser import Analyser
from measurements.selectors.analysers.analysers import AnalyserRow

NOTE_SENTENCES = {
    "load_by_construction": "The load reads perfect: it seems to be the calibration's own, which reads "
    "perfect by construction and shows nothing. Take one from another bag.",
    "end_by_construction": "The open or short reads perfect: it seems to be the calibration's own, which "
    "reads perfect by construction and shows nothing. Put it at the end of 1 m of coax.",
    "through_by_construction": "S11 of the through reads perfect: the calibration took it in, so it shows no "
    "match of port 2.",
    "transmission_by_construction": "S21 of the through reads perfect: the calibration took it in, so it "
    "shows no tracking.",
    "line_too_short": "The coax is too short to tell tracking and source match apart. Take 1 m or more, or "
    "sweep higher.",
    "directivity_not_shown": "Directivity was not shown: add a load that you measured with a meter.",
    "source_match_not_shown": "Source match was not shown: it takes the coax and the load together.",
    "reflection_tracking_not_shown": "Tracking was not shown: it takes the coax and the load together.",
}
_MEASURED_WORDS = {
    "directivity": "Directivity of port 1",
    "source_match": "Source match of port 1",
    "reflection_tracking": "Reflection tracking",
    "port2_match": "Match of port 2",
    "transmission_tracking": "Transmission tracking",
}


@dataclass(frozen=True)
class SizeLine:
    """A residual in words. size: linear, and in dB. basis: stated, measured or assumed."""

    label: str
    size: str
    basis: str


def list_used_sizes(row: AnalyserRow) -> list[SizeLine]:
    """Return what a budget takes of the analyser, each with where it comes from."""
    known, default = row.description, Analyser()
    match_db = 20.0 if known.get("paths") != 2 else _to_db(known.get("reflection_residual", 0.01))
    lines = (
        ("Residuals of port 1", "reflection_residual", default.reflection_residual, _format_linear),
        ("Match of port 2", "port2_match_db", match_db, _format_match),
        ("Drift since the calibration", "drift_db", default.drift_db, _format_db),
        ("Noise", "noise", default.noise, _format_linear),
    )
    return [
        SizeLine(label, write(known.get(name, assumed)), _tell_basis(row, name))
        for label, name, assumed, write in lines
    ]


def list_measured_bounds(row: AnalyserRow) -> list[SizeLine]:
    """Return bounds of each term that check sweeps showed."""
    return [
        SizeLine(label, _format_linear(row.measured[name]), "measured")
        for name, label in _MEASURED_WORDS.items()
        if row.measured.get(name) is not None
    ]


def list_check_notes(row: AnalyserRow) -> list[str]:
    """Return what the check sweeps could not show, as sentences."""
    return [NOTE_SENTENCES[code] for code in row.measured.get("notes", ()) if code in NOTE_SENTENCES]


def _tell_basis(row: AnalyserRow, name: str) -> str:
    if name in row.description and row.description[name] != row.stated.get(name):
        shown = name != "drift_db" and (name != "reflection_residual" or list_measured_bounds(row))
        return "measured" if row.measured and shown and not _is_default(row, name) else "assumed"
    return "stated" if name in row.stated else "assumed"


def _is_default(row: AnalyserRow, name: str) -> bool:
    value: Any = getattr(Analyser(), name)
    return bool(row.description[name] == value)


def _to_db(size: float) -> float:
    return -20 * log10(max(size, 1e-6))


def _format_linear(size: float) -> str:
    return f"{size:.2g} ({_to_db(size):.0f} dB)"


def _format_match(size_db: float) -> str:
    return f"{size_db:.1f} dB"


def _format_db(size_db: float) -> str:
    return f"{size_db:g} dB"
