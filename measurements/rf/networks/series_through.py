"""A device as one series impedance between two ports: Zcm from S, and rejection.

Three ways to Zcm, best first (`best_method`): `y21` from a full two-port, -1/Y21, leaves out what the
jig shunts to ground at either end; `s21` from transmission alone; `s11` from reflection alone with
the far side shorted to shield, poor above 1 kohm. All arrays are (..., F) along the last axis, complex; a
quotient that does not exist is NaN (S21 = 0 has no finite Zcm), and numpy stays silent.

Rejection is always positive decibels of a voltage ratio (20 log10). A complete block gives +inf.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
import skrf

from measurements.errors import BenchnightError
from measurements.rf.networks import two_port
from measurements.rf.networks.two_port import divide_or_nan
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

ImpedanceMethod = Literal["y21", "s21", "s11"]
IMPEDANCE_METHODS: tuple[ImpedanceMethod, ...] = ("y21", "s21", "s11")


def choose_impedance_method(
    sweep: Sweep, wanted: str | None = None, *, field: str = "sweep"
) -> ImpedanceMethod:
    """Return the best way to Zcm that the measured columns allow, or the wanted one.

    Raises BenchnightError `common_mode.method` for an unknown or impossible method,
    `common_mode.no_column` where neither S21 nor S11 was measured.
    """
    has = sweep.measured
    two = sweep.ports >= 2
    possible: dict[ImpedanceMethod, bool] = {
        "y21": two and bool(has[:2, :2].all()) and not sweep.magnitude_only,
        "s21": two and bool(has[1, 0]),
        "s11": bool(has[0, 0]),
    }
    for method in IMPEDANCE_METHODS:
        if possible[method] and wanted in (None, method):
            return method
    if wanted is None:
        raise BenchnightError(
            "common_mode.no_column",
            "A common-mode test needs S21, or S11 with the far side shorted to shield. Measure one of them.",
            field=field,
        )
    raise BenchnightError(
        "common_mode.method",
        f"'{wanted[:20]}' cannot be computed from this sweep. Leave the method empty, or choose one of "
        f"{', '.join(IMPEDANCE_METHODS)} for which the sweep has the S-parameters.",
        field="method",
    )


def z_from_s21(s21: Complexes, z1_ohm: float, z2_ohm: float) -> Complexes:
    """Return Zcm = 2 sqrt(z1 z2)/S21 - (z1 + z2); with equal references 2 Z0 (1 - S21)/S21.

    Source: Z(TRANS) of the Advantest R3765/67G Series Operation Manual, p. 7-13; the unequal form is
    our own derivation and reduces to it.
    """
    return divide_or_nan(_root(z1_ohm, z2_ohm) - (z1_ohm + z2_ohm) * s21, s21)


def y_from_s21(s21: Complexes, z1_ohm: float, z2_ohm: float) -> Complexes:
    """Return 1/Zcm from transmission: finite (0) for a complete block; NaN for a perfect through."""
    return divide_or_nan(s21, _root(z1_ohm, z2_ohm) - (z1_ohm + z2_ohm) * s21)


def z_from_two_port(sweep: Sweep) -> Complexes:
    """Compute Zcm = -1/Y21 (F,) of a full two-port, as B of its ABCD matrix, which is the same.

    B exists wherever anything gets through. Y does not: a perfect through has none, and
    `skrf.network.s2y` invents 1e10 siemens there.
    """
    return z_from_s(_full_s(sweep), *_references(sweep))


def z_from_s(s: Complexes, z1_ohm: float, z2_ohm: float) -> Complexes:
    """Compute `z_from_two_port` of S (..., F, 2, 2) with references z1, z2; NaN where S21 = 0."""
    references = np.tile(np.array([z1_ohm, z2_ohm], complex), (s[..., 0, 0].size, 1))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        b_ohm = skrf.network.s2a(s.reshape(-1, 2, 2), references)[:, 0, 1].reshape(s.shape[:-2])
    return np.where(np.isfinite(b_ohm), b_ohm, two_port.UNDEFINED)


def y_from_two_port(sweep: Sweep) -> Complexes:
    """Compute -Y21 (F,): finite (0) for a complete block; NaN for a perfect through."""
    s = _full_s(sweep)
    y: Complexes = divide_or_nan(1.0, z_from_s(s, *_references(sweep)))
    return np.where(s[:, 1, 0] == 0, 0, y)


def z_from_s11(s11: Complexes, z0_ohm: float) -> Complexes:
    """Compute Z = Z0 (1+S11)/(1-S11), the far side shorted to shield; NaN at S11 = 1."""
    return two_port.impedance_ohm(s11, z0_ohm)


def compute_series_impedance(sweep: Sweep, method: ImpedanceMethod, *, field: str = "sweep") -> Complexes:
    """Return Zcm (F,) of a sweep by the given method; unmeasured columns are refused in words."""
    if method == "y21":
        return z_from_two_port(sweep)
    if method == "s21":
        return z_from_s21(sweep.column(1, 0, field=field), *_references(sweep))
    return z_from_s11(sweep.column(0, 0, field=field), float(sweep.z0_ohm[0]))


def compute_series_admittance(sweep: Sweep, method: ImpedanceMethod, *, field: str = "sweep") -> Complexes:
    """Return 1/Zcm (F,), 0 where nothing gets through."""
    if method == "y21":
        return y_from_two_port(sweep)
    if method == "s21":
        return y_from_s21(sweep.column(1, 0, field=field), *_references(sweep))
    s11 = sweep.column(0, 0, field=field)
    return divide_or_nan(1 - s11, float(sweep.z0_ohm[0]) * (1 + s11))


def loop_ohm(sweep: Sweep, method: ImpedanceMethod) -> float:
    """Return source plus load resistance that Zcm is seen against: z1 + z2, or 2 Z0 from S11 alone."""
    if method == "s11":
        return 2.0 * float(sweep.z0_ohm[0])
    return float(sweep.z0_ohm[0] + sweep.z0_ohm[1])


def compute_transmission(z_ohm: Complexes, around_ohm: float) -> Complexes:
    """Return the transmission through a series Zcm relative to a direct connection: 1/(1 + Zcm/(Zs + Zl))."""
    return divide_or_nan(around_ohm, around_ohm + z_ohm)


def rejection_db(through: Complexes) -> Floats:
    """Return -20 log10 |S21| (..., F): +inf where nothing gets through, NaN where `through` is NaN.

    With `transmission` this is 20 log10 |1 + Zcm/(2 Z0)| (C. Parker, Conformity, June 2008, p. 57).
    """
    return rejection_from_size_db(np.abs(through))


def rejection_from_size_db(size: Floats) -> Floats:
    """Return `rejection_db` of |S21|."""
    if size.all():  # not one complete block; NaN counts as something
        return -20.0 * np.log10(size) + 0.0
    out = np.full(size.shape, np.inf)
    np.log10(size, out=out, where=size != 0)
    return np.where(size == 0, np.inf, -20.0 * out) + 0.0


def build_series_s(z_ohm: Complexes, z0_ohm: float = 50.0) -> Complexes:
    """Return (F, 2, 2) S of a series impedance in a Z0 system: S11 = Z/(Z+2 Z0), S21 = 2 Z0/(Z+2 Z0)."""
    through = compute_transmission(z_ohm, 2 * z0_ohm)
    back = 1 - through
    return np.stack([np.stack([back, through], -1), np.stack([through, back], -1)], -2)


def _references(sweep: Sweep) -> tuple[float, float]:
    return float(sweep.z0_ohm[0]), float(sweep.z0_ohm[1])


def _root(z1_ohm: float, z2_ohm: float) -> float:
    return 2.0 * float(np.sqrt(z1_ohm * z2_ohm))


def _full_s(sweep: Sweep) -> Complexes:
    """Take S (F, 2, 2) of the first two ports; each of the four columns must have been measured."""
    for i, j in ((0, 0), (0, 1), (1, 0), (1, 1)):
        sweep.column(i, j)
    s: Complexes = sweep.s[:, :2, :2]
    return s
