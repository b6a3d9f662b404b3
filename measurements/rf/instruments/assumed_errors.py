"""Assumed errors of an analyser: how far an honest reading may lie from the truth.

A check that leaves a sweep out must follow from these errors, or it throws honest sweeps out. The terms
are those of EURAMET cg-12 (directivity, source and load match, tracking, drift, noise); the sizes are
those of `Analyser`. All bounds are linear sums: they hold for every phase of
every term.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measurements.rf.analyser import UNDESCRIBED, Analyser
from measurements.rf.impedance_ratio import NOMINAL_OHM
from measurements.rf.sweeps.sweep import Floats, Sweep

STRAY_F = 10e-12  # from a clip to ground, before it is a fault of the jig


@dataclass(frozen=True)
class AssumedErrors:
    """Linear sizes: `reflection` for directivity, source match and tracking each; `port2_match` of port 2."""

    reflection: float
    port2_match: float
    drift: float
    noise: float

    def bound_reflection(self, reflected: Floats) -> Floats:
        """Bound the error of |S11| (F,): directivity, tracking, source match and drift."""
        return self.reflection * (1 + reflected + reflected**2) + self.drift * reflected

    def bound_transmission(self, transmitted: Floats, near: Floats, far: Floats | float) -> Floats:
        """Bound the error of |S21| (F,) between reflections `near` and `far` (F,) of the device's ends."""
        share = self.drift + self.reflection * (1 + near) + self.port2_match * far
        return transmitted * share + self.port2_match * self.reflection


def assume_errors(sweep: Sweep, analyser: Analyser = UNDESCRIBED) -> AssumedErrors:
    """Take the errors of the analyser that wrote `sweep`, as described or with its cautious defaults."""
    match = analyser.get_port2_match(sweep)
    return AssumedErrors(analyser.reflection_residual, match, analyser.drift, analyser.noise)


def bound_stray(freq_hz: Floats, stray_f: float = STRAY_F) -> Floats:
    """Return (F,) misfit of S11 + S21 = 1 that a capacitance from either clip to ground makes: 2 omega C
    Z0.
    """
    bound: Floats = 2 * 2 * np.pi * freq_hz * stray_f * NOMINAL_OHM
    return bound


def is_beyond(freq_hz: Floats, value: Floats, bound: Floats) -> bool:
    """Say whether `value` (F,) exceeds `bound` (F,) in the median over the sweep, or over any octave of it.

    NaN counts as unknown. An octave counts from nine known points on: noise moves no median of so many.
    """
    known = np.isfinite(value) & np.isfinite(bound)
    freq_hz, over = freq_hz[known], (value - bound)[known]
    if not (over > 0).any():
        return False
    if np.median(over) > 0:
        return True
    start_hz = max(float(freq_hz[0]), 1.0)
    while start_hz < freq_hz[-1]:
        octave = over[(freq_hz >= start_hz) & (freq_hz <= 2 * start_hz)]
        if octave.size >= _OCTAVE_POINTS and np.median(octave) > 0:
            return True
        start_hz *= np.sqrt(2)
    return False


_OCTAVE_POINTS = 9
