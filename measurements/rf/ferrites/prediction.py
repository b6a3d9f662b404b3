"""The curve a new device is likely to show, and how likely it meets a benchmark: draws from what is believed.

Every draw is one device: coefficients as sure as they are, a design's own shift, a device's, and what the
model misses. The same draws serve every winding, so that two proposals differ by themselves and not by
chance.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy import special

from measurements.rf.ferrites import learned_windings, winding_terms
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.learned_windings import DesignShifts, LearnedWindings
from measurements.rf.ferrites.learning import SPREAD_OF_MEDIAN
from measurements.rf.ferrites.winding_model import WindingModel
from measurements.rf.ferrites.winding_terms import KNOTS_HZ, LAW_TERMS
from measurements.rf.sweeps.sweep import Complexes, Floats

DRAWS = 256
SEED = 20  # any number: another one moves a chance by about a hundredth
COEFFICIENT_COUNT = 2 * KNOTS_HZ.size + len(LAW_TERMS)
SHIFT_COUNT = 4  # a design's two and a device's two


@dataclass(frozen=True)
class ModelDraws:
    """Draws of one mix at `freq_hz` (F,): ln mu (S, F), coefficients (S, 2K+L), shifts (S, 4), misfit (S, F).

    misfit: relative, complex. ln mu has the mix's correction in it, not the shifts.
    """

    freq_hz: Floats
    log_mu: Complexes
    coefficients: Floats
    shifts: Floats
    misfit: Complexes


def draw_model(
    believed: LearnedWindings, mix: str, table: Permeability, freq_hz: Floats, draws: int = DRAWS
) -> ModelDraws:
    """Draw for any winding on `mix`; NaN outside the table."""
    normal = _normal(draws)
    mean, covariance = believed.of(mix)
    coefficients = mean + normal[:, :COEFFICIENT_COUNT] @ _root(covariance).T
    scale = np.array([*believed.spreads.design, *believed.spreads.device])
    shifts = normal[:, COEFFICIENT_COUNT : COEFFICIENT_COUNT + SHIFT_COUNT] * scale
    return ModelDraws(
        freq_hz,
        winding_terms.table_log_mu(table, freq_hz)
        + learned_windings.log_mu_correction(coefficients, freq_hz),
        coefficients,
        shifts,
        believed.spreads.misfit * _misfit(draws, tuple(freq_hz.tolist())),
    )


def predict_new_design_ohm(drawn: ModelDraws, wound: WindingModel) -> Complexes:
    """Return impedances (S, F) of devices of a design that nobody has built."""
    shift_mu = drawn.shifts[:, 0] + drawn.shifts[:, 2]
    log_stray = (
        learned_windings.log_stray_f(drawn.coefficients, wound) + drawn.shifts[:, 1] + drawn.shifts[:, 3]
    )
    return _compute_drawn_ohm(drawn, drawn.log_mu + shift_mu[:, None], log_stray, wound)


def predict_known_design_ohm(
    believed: LearnedWindings, drawn: ModelDraws, table: Permeability, known: DesignShifts
) -> Complexes:
    """Return impedances (S, F) of new devices of a design that has evidence: its own shifts, and a device's
    spread.

    Evidence is the median of n devices, which is itself off from the design by what n devices have in common:
    the design's shift given the median's is normal, shrunk by that share (textbook, normal-normal model).
    """
    mean, _ = believed.of(known.wound.mix)
    normal = drawn.shifts[:, :2] / np.array(believed.spreads.design)
    design, device = np.square(believed.spreads.design), np.square(believed.spreads.device)
    shrunk = design / (design + SPREAD_OF_MEDIAN * device / max(known.devices, 1))
    covariance = shrunk[:, None] * known.covariance * shrunk[None, :] + np.diag(design * (1 - shrunk))
    mu, stray = (shrunk * known.mean + normal @ _root(covariance).T).T
    log_mu = winding_terms.table_log_mu(table, drawn.freq_hz) + learned_windings.log_mu_correction(
        mean, drawn.freq_hz
    )
    log_stray = float(learned_windings.log_stray_f(mean, known.wound)) + stray + drawn.shifts[:, 3]
    return _compute_drawn_ohm(
        drawn, log_mu[None, :] + (mu + drawn.shifts[:, 2])[:, None], log_stray, known.wound
    )


def predict_design_ohm(
    believed: LearnedWindings, drawn: ModelDraws, table: Permeability, wound: WindingModel, key: str | None
) -> Complexes:
    """Return impedances (S, F), with the evidence of the design `key` where there is some."""
    known = believed.designs.get(key or "")
    return (
        predict_new_design_ohm(drawn, wound)
        if known is None
        else predict_known_design_ohm(believed, drawn, table, known)
    )


def predict_nominal_ohm(
    believed: LearnedWindings, table: Permeability, wound: WindingModel, freq_hz: Floats
) -> Complexes:
    """Return the middle device (F,): every coefficient at its mean, no shift."""
    mean, _ = believed.of(wound.mix)
    log_mu = winding_terms.table_log_mu(table, freq_hz) + learned_windings.log_mu_correction(mean, freq_hz)
    return winding_terms.compute_winding_terms(
        freq_hz, log_mu, float(learned_windings.log_stray_f(mean, wound)), wound
    ).z_ohm


def compute_interval(values: Floats, share: float = 0.8) -> tuple[Floats, Floats, Floats]:
    """Return lower end, median and upper end of the middle `share` of draws (S, ...)."""
    low, middle, high = np.quantile(values, (0.5 - share / 2, 0.5, 0.5 + share / 2), axis=0)
    return low, middle, high


def _compute_drawn_ohm(
    drawn: ModelDraws, log_mu: Complexes, log_stray: Floats, wound: WindingModel
) -> Complexes:
    omega = 2 * np.pi * drawn.freq_hz
    core_s = np.exp(-log_mu) / (1j * omega * wound.l0_h)
    stray_s = 1j * omega * np.exp(log_stray)[:, None]
    found: Complexes = np.exp(drawn.misfit) / (wound.lines * (core_s + stray_s))
    return found


def _root(covariance: Floats) -> Floats:
    """Return a square root of a covariance that may be short of full rank."""
    values, vectors = np.linalg.eigh(covariance)
    found: Floats = vectors * np.sqrt(np.maximum(values, 0.0))
    return found


@lru_cache(maxsize=4)
def _normal(draws: int) -> Floats:
    """Return evenly spread normal draws (S, ...), the same ones every time; S even.

    A Latin hypercube (McKay, Beckman and Conover, Technometrics 21 (1979) 239-245) whose columns are
    nearly uncorrelated, and its mirror image. From seed to seed chances scatter by 0.013 with 64 draws and by
    0.006 with 256. A scrambled Sobol sequence does the same (0.015, 0.006), but brings all of `scipy.stats`
    with it, 45 MB in every process.
    """
    rng = np.random.default_rng(SEED)
    orthogonal, _ = np.linalg.qr(rng.standard_normal((draws // 2, COEFFICIENT_COUNT + SHIFT_COUNT)))
    strata = orthogonal.argsort(axis=0).argsort(axis=0)
    half = special.ndtri((strata + rng.uniform(0.01, 0.99, strata.shape)) / len(strata))
    normal: Floats = np.concatenate([half, -half])
    normal.setflags(write=False)
    return normal


@lru_cache(maxsize=16)
def _misfit(draws: int, freq_hz: tuple[float, ...]) -> Complexes:
    """Return complex draws (S, F) of unit spread each way that neighbouring frequencies share."""
    root = np.linalg.cholesky(
        winding_terms.frequency_correlation(np.array(freq_hz)) + 1e-9 * np.eye(len(freq_hz))
    )
    rng = np.random.default_rng(SEED)
    both = rng.standard_normal((2, draws, len(freq_hz))) @ root.T
    found: Complexes = both[0] + 1j * both[1]
    return found
