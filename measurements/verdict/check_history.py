"""The history of a check standard at one bench: sweep after sweep, each held against the sessions before it.

A session is a club night, or what one account measured on one day. Repeats within a session share its
calibration, so a session gives the limits one figure a band: its last sweep that was in control.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from measurements.verdict import control_chart
from measurements.verdict.control_chart import FloatArray, Limits

SweepState = Literal["in_control", "out_of_control", "not_enough"]


@dataclass(frozen=True)
class JudgedSweep:
    """One sweep. limits: what it was held against. outside: B, the bands that leave them."""

    state: SweepState
    limits: Limits
    outside: npt.NDArray[np.bool_]


@dataclass(frozen=True)
class History:
    """All sweeps in their order, and the limits for the next session."""

    sweeps: tuple[JudgedSweep, ...]
    limits: Limits
    sessions: FloatArray  # a row for each session whose last sweep is believed


def judge_history(figures: FloatArray, sessions: Sequence[str], usual_spread: float) -> History:
    """Judge every sweep by the sessions before its own.

    figures: N sweeps in order, B bands, NaN where a band was not measured. sessions: of each sweep.
    A sweep out of control never becomes part of the limits: a new jig begins a new history.
    """
    judged: list[JudgedSweep] = []
    believed: dict[str, FloatArray] = {}
    for row, session in zip(figures, sessions, strict=True):
        earlier = [each for name, each in believed.items() if name != session]
        limits = control_chart.compute_limits(_stack(earlier, figures), usual_spread)
        outside = control_chart.find_bands_outside(limits, row)
        state: SweepState = "in_control" if _has_limits(limits, row) else "not_enough"
        if outside.any():
            state = "out_of_control"
        else:
            believed[session] = row
        judged.append(JudgedSweep(state, limits, outside))
    rows = _stack(list(believed.values()), figures)
    return History(tuple(judged), control_chart.compute_limits(rows, usual_spread), rows)


def _has_limits(limits: Limits, row: FloatArray) -> bool:
    return bool(np.any(np.isfinite(limits.low) & np.isfinite(row)))


def _stack(rows: Sequence[FloatArray], like: FloatArray) -> FloatArray:
    return np.vstack(rows) if rows else np.empty((0, like.shape[1]))
