"""The match of port 2 of a one-path analyser: known from S11 of the jig's through, and taken out with it.

With the jig closed on itself port 1 looks into port 2, so S11 of `jig_through` is the reflection G2 of port
2, and a reading of S21 is relative to what that through passes. With Z2 = Z0 (1+G2)/(1-G2):

- a series impedance is Z = (Z0 + Z2)(1/T - 1) of the transmission T as read;
- a loss through a resistor Rs into Rs + Z2 is -10 log10(|T|^2 |1+G2|^2 Z0 (Rs + Re Z2)/|Z2|^2);
- a full two-port read by turning the device, or a symmetric one, solves
  S11m = S11 + S12 S21 G2/(1 - S22 G2), S21m = S21/(1 - S22 G2), and the same the other way round;
- a two-port read from one end alone solves the same with an estimate of S22 (`estimate_far_reflection`).

Source: voltage and power of a loaded source (own derivation).
"""

from __future__ import annotations

from dataclasses import dataclass

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


@dataclass(frozen=True)
class ForwardReading:
    """S11, S21 and S22 (F,) of a device that was swept from one end.

    far_slack: (F,) by how much S22 may be off (`estimate_far_reflection`). g2: (F,) match of port 2 that
    was taken out.
    """

    s11: Complexes
    s21: Complexes
    s22: Complexes
    far_slack: Floats
    g2: Complexes


def correct_forward(through: Sweep | None, test: Sweep, analyser: Analyser) -> ForwardReading | None:
    """Take the match of port 2 out of a sweep of S11 and S21 with phase; None where that is not possible."""
    g2 = find_port2_reflection(through, test, analyser)
    if g2 is None or test.magnitude_only or not test.measured[0, 0]:
        return None
    read11, read21 = np.asarray(test.s[:, 0, 0]), np.asarray(test.s[:, 1, 0])
    s11, s21 = read11, read21
    for _ in range(_ROUNDS):
        s22, slack = estimate_far_reflection(s11, s21)
        far = 1 - s22 * g2
        s21 = read21 * far
        s11 = np.asarray(read11 - two_port.divide_or_nan(s21**2 * g2, far))
    return ForwardReading(s11, s21, s22, slack, g2)


def estimate_far_reflection(s11: Complexes, s21: Complexes) -> tuple[Complexes, Floats]:
    """Estimate S22 (F,) of a reciprocal passive device from S11 and S21, and how far it may be off.

    The columns of I - S^H S are those of a positive matrix, so S22 lies within (1-|S11|^2-|S21|^2)/|S21| of
    -conj(S11) S21/conj(S21), to first order in what becomes heat (own derivation). In that disc the value
    next to S11 is taken: most 1:1 devices, and pairs, look alike from both ends. Where S11 itself lies
    outside, the device is not alike, and the value at the edge may be off by the whole width of the disc.
    """
    size = np.maximum(np.abs(s21), 1e-6)  # nothing gets through: the disc holds every reflection anyway
    centre = -np.conj(s11) * (s21 / size) ** 2
    slack = np.minimum(np.maximum(1 - np.abs(s11) ** 2 - np.abs(s21) ** 2, 0.0) / size, 2.0)
    apart = s11 - centre
    share = np.minimum(1.0, slack / np.maximum(np.abs(apart), 1e-12))
    return np.asarray(centre + share * apart), np.where(share < 1.0, 2.0, 1.0) * slack
