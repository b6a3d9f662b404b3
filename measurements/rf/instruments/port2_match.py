"""The match of port 2 of a one-path analyser: known from S11 of the jig's through, and taken out with it.

With the jig closed on itself port 1 looks into port 2, so S11 of `jig_through` is the reflection G2 of port
2, and a reading of S21 is relative to what that through passes. With Z2 = Z0 (1+G2)/(1-G2):

- a series impedance is Z = (Z0 + Z2)(1/T - 1) of the transmission T as read;
- a loss through a resistor Rs into Rs + Z2 is -10 log10(|T|^2 |1+G2|^2 Z0 (Rs + Re Z2)/|Z2|^2);
- a full two-port read by turning the device, or a symmetric one, solves
  S11m = S11 + S12 S21 G2/(1 - S22 G2), S21m = S21/(1 - S22 G2), and the same the other way round.

Source: voltage and power of a loaded source (own derivation).
"""

from __future__ import annotations

import numpy as np

from measurements.rf.analyser import Analyser
from measurements.rf.networks import two_port
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

LARGEST_MATCH = 0.5  # a "through" that reflects more is not one
_ROUNDS = 12  # each brings |G2 S22| more digits; 0.1 x 0.9 leaves 1e-12


def find_port2_reflection(through: Sweep | None, test: Sweep, analyser: Analyser) -> Complexes | None:
    """Return G2 (F,) from the through on the test's frequencies; None where port 2 needs none, or it is
    unknown.
    """
    if (
        through is None
        or analyser.get_paths(test) == 2
        or through.magnitude_only
        or not through.measured[0, 0]
    ):
        return None
    g2: Complexes = through.s[:, 0, 0]
    return g2 if bool((np.abs(g2) <= LARGEST_MATCH).all()) else None


def correct_series_impedance(through: Complexes, g2: Complexes, z0_ohm: float) -> Complexes:
    """Return Zcm (..., F) from the transmission `through` relative to the closed jig."""
    z2_ohm = two_port.impedance_ohm(g2, z0_ohm)
    return (z0_ohm + z2_ohm) * two_port.divide_or_nan(1 - through, through)


def compute_resistor_loss_db(through: Complexes, g2: Complexes, rs_ohm: Complexes, z0_ohm: float) -> Floats:
    """Return loss (..., F) of a device between Z0 and Rs + Z2; with G2 = 0 that is between Z0 and Rs + Z0."""
    resistance = rs_ohm.real + two_port.impedance_ohm(g2, z0_ohm).real
    # |1+G2|^2 Z0/|Z2|^2 is |1-G2|^2/Z0
    return two_port.loss_db(through * (1 - g2)) + two_port.power_loss_db(resistance / z0_ohm)


def correct_two_port(s: Complexes, g2: Complexes) -> Complexes:
    """Return S (F, 2, 2) of a device that was swept from either end into the same port 2."""
    s11, s12, s21, s22 = s[:, 0, 0], s[:, 0, 1], s[:, 1, 0], s[:, 1, 1]
    found = [s11, s12, s21, s22]
    for _ in range(_ROUNDS):
        a11, a12, a21, a22 = found
        near, far = 1 - a11 * g2, 1 - a22 * g2
        loop = a12 * a21 * g2
        found = [
            s11 - two_port.divide_or_nan(loop, far),
            s12 * near,
            s21 * far,
            s22 - two_port.divide_or_nan(loop, near),
        ]
    return two_port.stack_two_port(*found)
