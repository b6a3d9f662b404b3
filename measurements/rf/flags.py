"""Flags: what stands beside a figure so that nobody believes it blindly.

A flag has a stable code, a severity and a sentence that says what to do. Every code stands in
`flag_catalogue.CATALOGUE` with its sentence; `flag()` fills the sentence in, so no code can be
raised that is not documented.

Severity: `refuse` (nothing was computed; raised as an error instead), `exclude` (kept and shown
to its owner, left out of evidence), `note` (counts, but read the sentence).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from .flag_catalogue import CATALOGUE

Severity = Literal["refuse", "exclude", "note"]


@dataclass(frozen=True)
class Flag:
    """One flag; `band` names the band it concerns, None the whole test."""

    code: str
    severity: Severity
    message: str
    band: str | None = None

    def as_dict(self) -> dict[str, str | None]:
        """The flag as a result carries it."""
        return {"code": self.code, "severity": self.severity, "message": self.message, "band": self.band}


def flag(code: str, *, band: str | None = None, **values: object) -> Flag:
    """The catalogue's flag `code`, its sentence filled in with `values`.

    Raises KeyError for a code that is not in the catalogue or a value that the sentence needs.
    """
    entry = CATALOGUE[code]
    return Flag(code, entry.severity, entry.message.format(**values), band)


def megahertz(freq_hz: float) -> str:
    """A frequency for a sentence: 7.1 MHz."""
    return f"{freq_hz / 1e6:.6g} MHz"
