"""What is published of one design's curves, as learning takes it: impedance, or rejection alone."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from measurements.rf.ferrites import winding_terms
from measurements.rf.ferrites.learned_windings import BuildSpreads
from measurements.rf.ferrites.winding_model import WindingModel
from measurements.rf.ferrites.winding_terms import WindingTerms
from measurements.rf.sweeps.sweep import Complexes, Floats

DB_PER_NEPER = 20 / math.log(10)
TWICE_Z0_OHM = 100.0
MEDIAN_NOISE = (
    0.02  # relative, of a median of sweeps, from frequency to frequency; common practice, no source
)
ROUNDED_DB = 0.5 / math.sqrt(12)  # of a figure in steps of 0.5 dB
FEWEST_POINTS = 8


def _no_curves() -> Complexes:
    return np.zeros((0, 0), dtype=np.complex128)


@dataclass(frozen=True)
class DesignEvidence:
    """Medians of one design on `freq_hz` (F,): `z_ohm` (F,) complex, or where that is None rejection_db (F,).

    devices: how many stand behind them, at least. curves_ohm: (n, F) of single devices, to see how they
    spread; empty where none are published. All known: NaN is left out before.
    """

    key: str
    wound: WindingModel
    devices: int
    freq_hz: Floats
    z_ohm: Complexes | None = None
    rejection_db: Floats | None = None
    curves_ohm: Complexes = field(default_factory=_no_curves)


def rejection_of_impedance_db(z_ohm: Complexes) -> Floats:
    """Return 20 log10 |1 + Z/(2 Z0)| at 50 ohm (series impedance, CISPR 17)."""
    found: Floats = 20 * np.log10(np.abs(1 + z_ohm / TWICE_Z0_OHM))
    return found


def compute_residual(seen: DesignEvidence, at: WindingTerms) -> Floats:
    """Return evidence minus model: ln of a ratio, real parts then phases (2F,), or dB (F,)."""
    if seen.z_ohm is not None:
        apart = np.log(seen.z_ohm / at.z_ohm)
        return np.concatenate([apart.real, apart.imag])
    if seen.rejection_db is None:
        raise ValueError("evidence has an impedance or a rejection")
    return np.asarray(seen.rejection_db - rejection_of_impedance_db(at.z_ohm))


def build_observation(seen: DesignEvidence, at: WindingTerms) -> Callable[[Complexes], Floats]:
    """Convert a relative change of Z (F, C), or (F,), into a change of the observed figure."""
    if seen.z_ohm is not None:
        return lambda change: np.concatenate([change.real, change.imag])
    slope = DB_PER_NEPER * at.z_ohm / (at.z_ohm + TWICE_Z0_OHM)
    return lambda change: np.asarray((slope.reshape(-1, *(1,) * (change.ndim - 1)) * change).real)


def compute_noise_covariance(seen: DesignEvidence, at: WindingTerms, spreads: BuildSpreads) -> Floats:
    """Return covariance of what is seen beyond mix, law and the design's own shifts."""
    misfit = spreads.misfit_design**2 + spreads.misfit_device**2 / max(seen.devices, 1)
    near = misfit * winding_terms.frequency_correlation(seen.freq_hz) + MEDIAN_NOISE**2 * np.eye(
        seen.freq_hz.size
    )
    if seen.z_ohm is not None:
        zero = np.zeros_like(near)
        return np.block([[near, zero], [zero, near]])
    slope = DB_PER_NEPER * at.z_ohm / (at.z_ohm + TWICE_Z0_OHM)
    found: Floats = (slope[:, None] * np.conj(slope)[None, :]).real * near
    return found + ROUNDED_DB**2 * np.eye(slope.size)
