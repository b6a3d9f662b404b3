"""Read how often the stated uncertainty of each method held the truth, as a simulation counted it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

FILE = Path(__file__).resolve().parents[3] / "fixtures" / "reference" / "coverage.json"


@dataclass(frozen=True)
class CoverageRow:
    """One cell of the simulation: a method at a ratio on an analyser.

    analyser: its paths and the match of port 2. described: whether the analyser's errors were given.
    drift_db: since calibration. inside: share of truths within U (95 %). median_u: in dB, or a share
    of |Z| for zcm.
    """

    method: str
    ratio: int
    analyser: str
    described: bool
    drift_db: float
    inside: float
    median_u: float


@dataclass(frozen=True)
class Coverage:
    """The whole count. counted_on: the day. draws: random devices and analysers a cell, at least."""

    counted_on: str
    draws: int
    rows: tuple[CoverageRow, ...]


@lru_cache(maxsize=1)
def get_coverage() -> Coverage:
    """Read the count from the file that `python -m tests.rf.certainty.store_coverage` writes."""
    stored = json.loads(FILE.read_text(encoding="utf-8"))
    rows = tuple(
        CoverageRow(
            row["cell"]["method"],
            row["cell"]["ratio"],
            row["cell"]["analyser"],
            row["cell"]["described"],
            row["cell"]["drift_db"],
            row["inside"],
            row["median_u"],
        )
        for row in stored["rows"]
    )
    return Coverage(stored["counted_on"], stored["draws"], rows)
