"""What a resistor of the bench brings into a budget: its tolerance, and its stray capacitance and inductance.

A value as measured holds within 1 % (a hand-held ohmmeter). A value that nobody gave, or that is exactly the
nominal one, was read off the part: 5 %. Its stray is anything up to 0.5 pF across it and 10 nH in series with
it (leaded film resistors and short leads). House defaults: common practice, no source.
"""

from __future__ import annotations

import numpy as np

from measurements.rf.analyser import Analyser
from measurements.rf.sweeps.sweep import Complexes, Floats

METERED = 0.01
PRINTED = 0.05
STRAY_F = 0.5e-12
STRAY_H = 10e-9


def get_tolerance(analyser: Analyser, given_ohm: float | None, nominal_ohm: float) -> float:
    """Return relative tolerance of a resistor: as described, or by whether somebody measured it."""
    if analyser.resistor_percent is not None:
        return analyser.resistor_percent / 100.0
    return PRINTED if given_ohm is None or given_ohm == nominal_ohm else METERED


def compute_stray_changes_ohm(freq_hz: Floats, ohm: float) -> tuple[Complexes, Complexes]:
    """Return (F,) each: how far the largest stray capacitance, and inductance, moves a resistor's
    impedance.
    """
    omega = 2.0 * np.pi * freq_hz
    across = ohm / (1.0 + 1j * omega * ohm * STRAY_F) - ohm
    return np.asarray(across, complex), np.asarray(1j * omega * STRAY_H, complex)
