"""Algebra of two-ports: S and ABCD with real, unequal references; nothing that can blow up.

Every quotient goes through `divided`: where the denominator is exactly zero, or an operand is not a
number, the answer is NaN and numpy stays silent; NaN leaves as `null` with a flag. Nothing is clamped and
no epsilon is added.

F points; a two-port is (F, 2, 2) complex; references are real and positive, one per port.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from measurements.rf.sweeps.sweep import Complexes, Floats

Operand = Complexes | Floats | complex
SINGULAR = 1e-12  # share of a determinant's largest possible size below which an inverse has no digit to show


def divide_or_nan(numerator: Operand, denominator: Operand) -> Complexes:
    """numerator / denominator, complex; NaN where the denominator is 0 or the quotient is not finite."""
    top, bottom = np.asarray(numerator, complex), np.asarray(denominator, complex)
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        out: Complexes = np.asarray(top / bottom)
    # a zero below, and whatever is no number above, shows in the quotient; an endless denominator does not
    usable = np.isfinite(out) & np.isfinite(bottom)
    if not usable.all():
        out[~usable] = complex(np.nan, np.nan)
    return out


def loss_db(ratio: Complexes | Floats) -> Floats:
    """-20 log10 |ratio|, positive for a loss; NaN where the ratio is 0 (an endless loss is no number)."""
    magnitude = np.abs(np.asarray(ratio))
    out = np.full(magnitude.shape, np.nan)
    usable = np.isfinite(magnitude) & (magnitude > 0)
    np.log10(magnitude, out=out, where=usable)
    return -20.0 * out


def power_loss_db(power: Floats) -> Floats:
    """-10 log10 of a share of power, NaN where it is not above 0."""
    share = np.asarray(power, dtype=np.float64)
    out = np.full(share.shape, np.nan)
    usable = np.isfinite(share) & (share > 0)
    np.log10(share, out=out, where=usable)
    return -10.0 * out


def mismatch_db(s11: Complexes) -> Floats:
    """-10 log10(1 - |S11|^2), NaN where nothing enters. Source: microwaves101, mismatch loss."""
    return power_loss_db(1.0 - np.abs(s11) ** 2)


def reflection_coefficient(z_ohm: Complexes | complex, z0_ohm: float) -> Complexes:
    """(Z - Z0)/(Z + Z0); NaN at Z = -Z0. An open has no impedance: give its reflection, 1, directly."""
    z = np.asarray(z_ohm, complex)
    return divide_or_nan(z - z0_ohm, z + z0_ohm)


def impedance_ohm(gamma: Complexes | complex, z0_ohm: float) -> Complexes:
    """Z0 (1+G)/(1-G); NaN at G = 1, the ideal open.

    Source: Advantest R3765/67G manual p. 7-13 (its reflection conversion).
    """
    g = np.asarray(gamma, complex)
    return z0_ohm * divide_or_nan(1 + g, 1 - g)


def s_to_abcd(s: Complexes, z0_ohm: Sequence[float]) -> Complexes:
    """(F, 2, 2) S with references (z1, z2) to ABCD; NaN where S21 = 0.

    Source: Frickey 1994 with real references, the inverse of `to_s`.
    """
    z1, z2 = z0_ohm
    s11, s12, s21, s22 = s[:, 0, 0], s[:, 0, 1], s[:, 1, 0], s[:, 1, 1]
    scale = 2.0 * s21 * np.sqrt(z1 * z2)
    through = s12 * s21
    a = divide_or_nan(((1 + s11) * (1 - s22) + through) * z1, scale)
    b = divide_or_nan(((1 + s11) * (1 + s22) - through) * z1 * z2, scale)
    c = divide_or_nan((1 - s11) * (1 - s22) - through, scale)
    d = divide_or_nan(((1 - s11) * (1 + s22) + through) * z2, scale)
    return stack_two_port(a, b, c, d)


def abcd_to_s(abcd: Complexes, z0_ohm: Sequence[float]) -> Complexes:
    """(F, 2, 2) ABCD to S with references (z1, z2).

    S21 = 2 sqrt(z1 z2)/(A z2 + B + C z1 z2 + D z1) and so on. Source: Frickey 1994.
    """
    z1, z2 = z0_ohm
    a, b, c, d = abcd[:, 0, 0], abcd[:, 0, 1], abcd[:, 1, 0], abcd[:, 1, 1]
    whole = a * z2 + b + c * z1 * z2 + d * z1
    root = 2.0 * np.sqrt(z1 * z2)
    s11 = divide_or_nan(a * z2 + b - c * z1 * z2 - d * z1, whole)
    s12 = divide_or_nan(root * (a * d - b * c), whole)
    s21 = divide_or_nan(root, whole)
    s22 = divide_or_nan(-a * z2 + b - c * z1 * z2 + d * z1, whole)
    return stack_two_port(s11, s12, s21, s22)


def renormalise_s(s: Complexes, from_ohm: Sequence[float], to_ohm: Sequence[float]) -> Complexes:
    """S of a P-port, (F, P, P), from one set of real references to another.

    S' = A^-1 (S - G)(I - G S)^-1 A with G = diag((to-from)/(to+from)), A = diag(sqrt(1-G^2)). Goes straight
    from S to S, so a through or an ideal transformer (which has no Z matrix) is exact. NaN at a point
    where I - G S cannot be inverted (no passive device is such).
    Source: Kurokawa 1965; Marks and Williams, J. Res. NIST 97(5), 1992 (from memory).
    """
    old, new = np.asarray(from_ohm, float), np.asarray(to_ohm, float)
    gamma = (new - old) / (new + old)
    root = np.sqrt(1.0 - gamma**2)
    identity = np.eye(s.shape[-1])
    matrix = identity - gamma[:, None] * s
    with np.errstate(invalid="ignore"):
        largest = np.prod(np.linalg.norm(matrix, axis=2), axis=1)  # Hadamard's bound of the determinant
        usable = np.asarray(np.abs(np.linalg.det(matrix)) > SINGULAR * largest)
    inverse = np.full(s.shape, complex(np.nan, np.nan))
    inverse[usable] = np.linalg.inv(matrix[usable])
    out = np.full(s.shape, complex(np.nan, np.nan))
    out[usable] = (s[usable] - np.diag(gamma)) @ inverse[usable]
    renormalised_s: Complexes = out * root[None, None, :] / root[None, :, None]
    return renormalised_s


def turn_two_port(s: Complexes) -> Complexes:
    """The same two-port looked at from its other end."""
    return s[:, ::-1, ::-1]


def stack_two_port(a: Complexes, b: Complexes, c: Complexes, d: Complexes) -> Complexes:
    """Four (F,) columns as (F, 2, 2): [[a, b], [c, d]]."""
    return np.stack([np.stack([a, b], axis=-1), np.stack([c, d], axis=-1)], axis=-2)


def build_series_abcd(z_ohm: Complexes | complex, points: int) -> Complexes:
    """ABCD, (F, 2, 2), of an impedance in series between the two ports."""
    one = np.ones(points, complex)
    return stack_two_port(one, z_ohm * one, 0 * one, one)


def continuous_sqrt(values: Complexes) -> Complexes:
    """Square root of (F,) complex whose branch follows its neighbours, starting with Re >= 0.

    The principal branch jumps where the value crosses the negative real axis; a device's S21 does not.
    NaN stays NaN and the branch is carried across the gap. The sign as a whole stays open, as it must:
    no reflection measurement tells S21 from -S21.
    """
    root: Complexes = np.sqrt(values)
    usable = np.flatnonzero(np.isfinite(root))
    kept = root[usable]
    turns_away = np.real(kept[1:] * np.conj(kept[:-1])) < 0
    flips = np.cumsum(turns_away) % 2 == 1
    root[usable[1:][flips]] *= -1
    return root
