"""The record of one vote as it leaves for a pool: figures, a class of U, a curve, a quarter, and pseudonyms.

Nothing else of a vote leaves: no name, tag, file, day, place, instrument or own frequency grid. Figures and
curves go in coarse steps, so that neither is the fingerprint of a sweep.
"""

from __future__ import annotations

import base64
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from measurements.disclosure.pooled_sending import LARGEST_U, class_uncertainty

# kind -> step of its figures, in their unit
STEPS = {"common_mode": 0.1, "insertion_loss": 0.01, "load_match": 0.01}
# kind -> lowest and highest figure that a bench can give; another is a slip or an attack
RANGES = {"common_mode": (-5.0, 100.0), "insertion_loss": (-1.0, 60.0), "load_match": (1.0, 1000.0)}
GRID_POINTS = 97
_MISSING = np.iinfo(np.int16).min
_STORED = np.dtype("<i2")


@dataclass(frozen=True)
class Pseudonyms:
    """Random names of the person, the device and the vote, of one design alone."""

    person: str
    device: str
    vote: str


def build_record(
    names: Pseudonyms,
    *,
    recipe_sha256: str,
    kind: str,
    worst: Mapping[str, float],
    uncertainty: Mapping[str, float | None],
    curve: bytes,
    measured_on: date,
) -> dict[str, Any] | None:
    """Build the record of one vote; None where no band is left.

    worst: band -> worst figure. uncertainty: band -> its U (95 %), None where a test of an older engine has
    none; a band whose U is too large to vote stays behind. curve: of `pack_curve`.
    """
    bands, classes = {}, []
    for band, figure in worst.items():
        own = uncertainty.get(band)
        if own is None or 0 <= own <= LARGEST_U[kind]:
            bands[band] = round_to_step(figure, kind)
            classes.append("whole" if own is None else class_uncertainty(own, kind))
    if not bands:
        return None
    return {
        "recipe_sha256": recipe_sha256,
        "kind": kind,
        "person": names.person,
        "device": names.device,
        "vote": names.vote,
        "bands": bands,
        "u": max(classes, key=("quarter", "half", "whole").index),
        "curve": base64.b64encode(curve).decode(),
        "quarter": format_quarter(measured_on),
    }


def round_to_step(figure: float, kind: str) -> float:
    """Round a figure to the step of its kind."""
    return round(round(figure / STEPS[kind]) * STEPS[kind], 6)


def format_quarter(day: date) -> str:
    """Format the quarter of a day, such as 2026-Q4."""
    return f"{day.year}-Q{(day.month + 2) // 3}"


def pack_curve(figures: ArrayLike, kind: str) -> bytes:
    """Pack a curve (97,) on the fixed grid, in the unit of its kind; NaN where there is no value."""
    steps = np.asarray(figures, dtype=np.float64) / STEPS[kind]
    whole = np.isfinite(steps) & (np.abs(steps) < -_MISSING)
    packed: bytes = np.where(whole, np.round(np.where(whole, steps, 0)), _MISSING).astype(_STORED).tobytes()
    return packed


def unpack_curve(packed: bytes, kind: str) -> NDArray[np.float64]:
    """Unpack a curve (97,); NaN where there is no value, all over for a kind without curves.

    Raises ValueError for another length.
    """
    if not packed:
        return np.full(GRID_POINTS, np.nan)
    if len(packed) != GRID_POINTS * _STORED.itemsize:
        raise ValueError("A packed curve has 97 points.")
    steps = np.frombuffer(packed, _STORED)
    return np.where(steps == _MISSING, np.nan, steps * STEPS[kind])
