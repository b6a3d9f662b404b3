"""One mix held against the sweep of a winding on an unmarked core: the best core and capacitance, and what
is left.

ln Z = ln of (turns on a core of size q with this table, beside a capacitance C), unknown ln q and ln C, and a
table that may be off by a few percent, alike at neighbouring frequencies. By Gauss-Newton, with the evidence
of the mix by Laplace's approximation (textbook; from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from . import winding_terms
from .ferrite import MU0_H_PER_M, Permeability
from .sweep import Complexes, Floats

# Ae/le of cores in use, natural logarithm of metres: from small beads to stacks of large rings (own
# estimate).
USUAL_FACTOR = (math.log(1.2e-3), 1.3)
TOLERANCE = 0.125  # standard deviation of a core of known size: makers state 20 to 25 % as their limit
USUAL_STRAY = (math.log(1.5e-12), 1.2)
TABLE_OFF = 0.05  # how far a core's curve departs from its table beyond its level (own estimate)
S21_NOISE = 0.0008  # of a hobby analyser, linear (common practice, no source)
ROUNDS = 12
POINTS = 40  # of a sweep that are looked at, evenly over ln f


@dataclass(frozen=True)
class CoreFit:
    """weight: natural logarithm of the evidence. left_over: rms of the relative difference, magnitude and
    phase.

    surprise: sum of squares in units of what was to be expected, over the number of figures; about 1 for the
    right mix. factor_m: Ae/le that fits; stray_f: the capacitance beside it.
    """

    mix: str
    weight: float
    left_over: float
    surprise: float
    factor_m: float
    stray_f: float
    z_ohm: Complexes


def fit(
    mix: str,
    table: Permeability,
    turns: int,
    freq_hz: Floats,
    z_ohm: Complexes,
    factor_m: float | None,
) -> CoreFit:
    """The best winding of so many turns on this mix; factor_m: of the core, None where not measured.

    freq_hz, z_ohm: (F,), all within the table.
    """
    size = USUAL_FACTOR if factor_m is None else (math.log(factor_m), TOLERANCE)
    prior_mean = np.array([size[0], USUAL_STRAY[0]])
    precision = np.diag([1 / size[1] ** 2, 1 / USUAL_STRAY[1] ** 2])
    log_mu, noise = winding_terms.table_log_mu(table, freq_hz), expected(freq_hz, z_ohm)
    inverse = np.linalg.inv(noise)
    at = _start(log_mu, turns, freq_hz, z_ohm, prior_mean)
    for _ in range(ROUNDS):
        model, by = _model(log_mu, turns, freq_hz, at)
        apart = stacked(np.log(z_ohm / model))
        hessian = by.T @ inverse @ by + precision
        step = np.linalg.solve(hessian, by.T @ inverse @ apart - precision @ (at - prior_mean))
        at = at + step * min(1.0, 0.7 / float(np.abs(step).max() + 1e-12))
    model, by = _model(log_mu, turns, freq_hz, at)
    apart = stacked(np.log(z_ohm / model))
    chi2 = float(apart @ inverse @ apart)
    away = at - prior_mean
    hessian = by.T @ inverse @ by + precision
    weight = -0.5 * (chi2 + float(away @ precision @ away))
    weight += 0.5 * (np.linalg.slogdet(precision)[1] - np.linalg.slogdet(hessian)[1])
    left_over = float(np.sqrt(np.mean(apart**2) * 2))
    return CoreFit(mix, float(weight), left_over, chi2 / apart.size, math.exp(at[0]), math.exp(at[1]), model)


def expected(freq_hz: Floats, z_ohm: Complexes) -> Floats:
    """Covariance (2F, 2F) of ln Z, real parts then phases, about the right table.

    Z = 2 Z0 (1 - S21)/S21: an error e of S21 is e (Z + 2 Z0)^2 / (2 Z0 Z) of Z, relative.
    """
    by_s21 = np.abs((z_ohm + 100) ** 2 / (100 * z_ohm)) * S21_NOISE
    near = TABLE_OFF**2 * winding_terms.nearness(freq_hz) + np.diag(by_s21**2 + 0.003**2)
    zero = np.zeros_like(near)
    return np.block([[near, zero], [zero, near]])


def stacked(relative: Complexes) -> Floats:
    """Real parts, then imaginary ones."""
    return np.concatenate([relative.real, relative.imag])


def thinned(freq_hz: Floats, z_ohm: Complexes) -> tuple[Floats, Complexes]:
    """At most 40 points, evenly over ln f, where the sweep is known."""
    known = np.isfinite(z_ohm) & (np.abs(np.nan_to_num(z_ohm)) > 0)
    freq, values = freq_hz[known], z_ohm[known]
    if freq.size <= POINTS:
        return freq, values
    wanted = np.geomspace(freq[0], freq[-1], POINTS)
    at = np.unique(np.abs(np.log(freq)[:, None] - np.log(wanted)[None, :]).argmin(axis=0))
    return freq[at], values[at]


def _start(log_mu: Complexes, turns: int, freq_hz: Floats, z_ohm: Complexes, prior: Floats) -> Floats:
    """From least squares of the admittance, each point by its relative error; the prior where that fails."""
    omega = 2 * np.pi * freq_hz
    per_size = np.exp(-log_mu) / (1j * omega * MU0_H_PER_M * turns**2)
    columns = np.stack([per_size * z_ohm, 1j * omega * z_ohm], axis=1)
    matrix = np.concatenate([columns.real, columns.imag])
    scale = np.linalg.norm(matrix, axis=0)
    target = np.concatenate([np.ones(omega.size), np.zeros(omega.size)])
    one_over, stray_f = np.linalg.lstsq(matrix / scale, target, rcond=None)[0] / scale
    start = prior.copy()
    if one_over > 0:
        start[0] = -math.log(one_over)
    if stray_f > 0:
        start[1] = max(math.log(stray_f), prior[1] - 4)
    return start


def _model(log_mu: Complexes, turns: int, freq_hz: Floats, at: Floats) -> tuple[Complexes, Floats]:
    """Z (F,) with ln q and ln C, and how ln Z moves with both, (2F, 2)."""
    omega = 2 * np.pi * freq_hz
    core_s = np.exp(-log_mu - at[0]) / (1j * omega * MU0_H_PER_M * turns**2)
    stray_s = 1j * omega * math.exp(at[1])
    total_s = core_s + stray_s
    by = np.stack([stacked(core_s / total_s), stacked(-stray_s / total_s)], axis=1)
    return 1 / total_s, by
