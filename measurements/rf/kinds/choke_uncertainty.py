"""U (95 %) of a choke's rejection and Zcm, for many sweeps of one grid at once: arrays (..., G).

First order in the residuals, because thousands of sweeps are recomputed together. With T the transmission
relative to a direct connection a series impedance has S11 = S22 = 1 - T. Relative errors of T: transmission
tracking, source match x S11, match of port 2 x S22, drift, connection, noise / |T|.

- from T alone dZ/Z = -(dT/T)/(1 - T);
- from a full two-port Z = Z0 ((1+S11)(1+S22) - S12 S21)/(2 S21), so dZ/Z = -dT/T + k (dS11 + dS22) with
  k = (2-T)/(4 (1-T));
- from a reflection G dZ/Z = 2 dG/(1 - G^2).

A complex relative error of U moves |Z| and, whatever its phase, R by U |Z|. What the jig shunts to ground
turns the phase of T (up to 5 pF in all, house default), which R feels and |Z| does not.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from measurements.rf.analyser import CONNECTION, Analyser
from measurements.rf.instruments.error_budget import COVERAGE_FACTOR
from measurements.rf.networks.series_through import ImpedanceMethod
from measurements.rf.sweeps.sweep import Bools, Complexes, Floats

JIG_GROUND_F = 5e-12  # house default: stray of both clips to the shields together
JIG_REPEAT_F = 0.1e-12  # house default: how far the stray across the clips changes from one use to the next
_DISC, _BOX, _RMS = 0.5, 1.0 / np.sqrt(3.0), np.sqrt(0.5)  # see error_budget
_DECIBELS = 20.0 / np.log(10.0)
_LARGER_SIDE = 1.3  # how far the larger side of 20 log10(1 +/- u) may exceed the smaller one


@dataclass(frozen=True)
class ChokeUncertainty:
    """(..., G) each: of the rejection in dB, of |Zcm| and of the resistance in ohm; NaN where undefined.

    least_db: what the rejection is at least, also where no signal was seen.
    """

    rejection_db: Floats
    impedance_ohm: Floats
    resistance_ohm: Floats
    least_db: Floats

    def select_rows(self, which: Bools) -> ChokeUncertainty:
        """Keep those of some sweeps. which: (N,)."""
        return ChokeUncertainty(*(getattr(self, each.name)[which] for each in fields(self)))


@dataclass(frozen=True)
class ChokeBench:
    """What a choke was swept with.

    match: of port 2 as far as it was not taken out, linear. is_normalised: S21 was divided by a through's.
    is_compensated: the jig's open and short were taken out. is_turned: one port drove both directions.
    """

    analyser: Analyser
    method: ImpedanceMethod
    match: float
    is_normalised: bool = False
    is_compensated: bool = False
    is_turned: bool = False
    z0_ohm: float = 50.0


def propagate_choke(
    freq_hz: Floats, through: Complexes, z_ohm: Complexes | None, bench: ChokeBench
) -> ChokeUncertainty:
    """Return U of every figure.

    through: (..., G) relative to a direct connection, before open and short were taken out; z_ohm: what is
    left, None without phase.
    """
    size = np.abs(through)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        if bench.method == "s11" and z_ohm is not None:
            of_z = _relative_by_reflection(z_ohm, bench)
            of_t = of_z * np.abs(z_ohm) / np.abs(z_ohm + 2 * bench.z0_ohm)
        else:
            of_t = _relative_by_transmission(through, size, bench)
            of_z = of_t / np.abs(1 - through)
            if bench.method == "y21":
                of_z = _relative_by_two_port(through, of_t, bench)
            if bench.is_compensated and z_ohm is not None:
                of_z = _add_compensation(freq_hz, through, z_ohm, of_z, bench)
                of_t = of_z * np.abs(z_ohm) / np.abs(z_ohm + 2 * bench.z0_ohm)
                size = np.abs(2 * bench.z0_ohm / (z_ohm + 2 * bench.z0_ohm))
        larger = -_DECIBELS * np.log1p(-np.minimum(of_t, 1.0))
        smaller = _DECIBELS * np.log1p(of_t)
        least_db = -_DECIBELS * np.log(size + np.where(size > 0, of_t * size, _find_floor(bench)))
        rejection_db = np.where(np.isfinite(of_t), np.minimum(larger, _LARGER_SIDE * smaller), np.nan)
        if z_ohm is None:
            unknown = np.full(size.shape, np.nan)
            return ChokeUncertainty(rejection_db, unknown, unknown, least_db)
        impedance = np.abs(z_ohm) * of_z
        turned = 0.0 if bench.method == "y21" else 2 * np.pi * freq_hz * JIG_GROUND_F * bench.z0_ohm
        resistance = np.hypot(impedance, np.abs(z_ohm) * turned)
    return ChokeUncertainty(rejection_db, impedance, resistance, least_db)


def _find_floor(bench: ChokeBench) -> float:
    """Bound the signal that may hide in the noise where a file says that nothing came through."""
    return float(COVERAGE_FACTOR * _RMS * bench.analyser.noise) + 1e-15


def _repeat_squares(bench: ChokeBench, sweeps: int) -> float:
    """Return variance of drift and connection of so many sweeps, relative."""
    return sweeps * float((_BOX * bench.analyser.drift) ** 2 + (_DISC * CONNECTION) ** 2)


def _relative_by_transmission(through: Complexes, size: Floats, bench: ChokeBench) -> Floats:
    residual = bench.analyser.reflection_residual
    reflected = np.abs(1 - through) ** 2
    variance = _DISC**2 * (residual**2 + bench.match**2) * reflected
    variance += _repeat_squares(bench, 2 if bench.is_normalised else 1)
    if not bench.is_normalised:
        variance += (_DISC * residual) ** 2
    variance += (_RMS * bench.analyser.noise / size) ** 2
    return np.asarray(COVERAGE_FACTOR * np.sqrt(variance))


def _add_compensation(
    freq_hz: Floats, through: Complexes, z_ohm: Complexes, of_z: Floats, bench: ChokeBench
) -> Floats:
    """Return the relative error of Z after an admittance beside it was taken out.

    dZ/Z of what was measured grows by |Z/Zm|, and the jig's stray does not come back the same.
    """
    measured_ohm = 2 * bench.z0_ohm * (1 - through) / through
    repeat = 2 * np.pi * freq_hz * JIG_REPEAT_F * np.abs(z_ohm)
    return np.asarray(np.hypot(of_z * np.abs(z_ohm / measured_ohm), repeat))


def _relative_by_two_port(through: Complexes, of_t: Floats, bench: ChokeBench) -> Floats:
    """Return the error of T, and those of S11 and S22 (directivity, tracking, source match, far port,
    repeats).
    """
    residual, analyser = bench.analyser.reflection_residual, bench.analyser
    reflected = np.abs(1 - through)
    one_side = _DISC**2 * residual**2 * (1 + reflected**2 + reflected**4)
    one_side += (_DISC * bench.match) ** 2 * np.abs(through) ** 4
    one_side += _repeat_squares(bench, 1) * reflected**2 + (_RMS * analyser.noise) ** 2
    weight = np.abs((2 - through) / (4 * (1 - through)))
    if bench.is_turned:  # one set of residuals moves S11, S22 and T together
        return np.asarray(of_t + 2 * COVERAGE_FACTOR * weight * np.sqrt(one_side))
    return np.asarray(np.hypot(of_t, COVERAGE_FACTOR * weight * np.sqrt(2 * one_side)))


def _relative_by_reflection(z_ohm: Complexes, bench: ChokeBench) -> Floats:
    gamma = (z_ohm - bench.z0_ohm) / (z_ohm + bench.z0_ohm)
    size = np.abs(gamma)
    residual = bench.analyser.reflection_residual
    variance = _DISC**2 * residual**2 * (1 + size**2 + size**4) + _repeat_squares(bench, 1) * size**2
    variance += (_RMS * bench.analyser.noise) ** 2
    return np.asarray(COVERAGE_FACTOR * np.sqrt(variance) * 2 / np.abs(1 - gamma**2))
