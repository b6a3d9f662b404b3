"""One mix held against the sweep of a winding on an unmarked core: the best core and capacitance, and what
is left.

ln Z = ln of (turns on a core of size q with this table, beside a capacitance C), unknown ln q and ln C, and a
table that may be off by a few percent, alike at neighbouring frequencies. By Gauss-Newton, with the evidence
of the mix by Laplace's approximation (textbook; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.ferrites import winding_terms
from measurements.rf.ferrites.ferrite_cores import MU0_H_PER_M, Permeability
from measurements.rf.sweeps.sweep import Complexes, Floats

# Ae/le of cores in use, natural logarithm of metres: from small beads to stacks of large rings (own
# estimate).
USUAL_FACTOR = (math.log(1.2e-3), 1.3)

CORE_TOLERANCE = 0.125  # standard deviation of a core of known size: makers state 20 to 25 % as their limit

USUAL_STRAY = (math.log(1.5e-12), 1.2)

TABLE_OFF = 0.05  # how far a core's curve departs from its table beyond its level (own estimate)

S21_NOISE = 0.0008  # of a hobby analyser, linear (common practice, no source)

ROUNDS = 12

FITTED_POINTS = 40  # of a sweep that are looked at, evenly over ln f


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


def fit_mix(
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
    size = USUAL_FACTOR if factor_m is None else (math.log(factor_m), CORE_TOLERANCE)
    prior_mean = np.array([size[0], USUAL_STRAY[0]])
    precision = np.diag([1 / size[1] ** 2, 1 / USUAL_STRAY[1] ** 2])
    log_mu, noise = winding_terms.table_log_mu(table, freq_hz), build_expected_covariance(freq_hz, z_ohm)
    inverse = np.linalg.inv(noise)
    at = _start(log_mu, turns, freq_hz, z_ohm, prior_mean)
    for _ in range(ROUNDS):
        model, by = _model(log_mu, turns, freq_hz, at)
        apart = stack_parts(np.log(z_ohm / model))
        hessian = by.T @ inverse @ by + precision
        step = np.linalg.solve(hessian, by.T @ inverse @ apart - precision @ (at - prior_mean))
        at = at + step * min(1.0, 0.7 / float(np.abs(step).max() + 1e-12))
    model, by = _model(log_mu, turns, freq_hz, at)
    apart = stack_parts(np.log(z_ohm / model))
    chi2 = float(apart @ inverse @ apart)
    away = at - prior_mean
    hessian = by.T @ inverse @ by + precision
    weight = -0.5 * (chi2 + float(away @ precision @ away))
    weight += 0.5 * (np.linalg.slogdet(precision)[1] - np.linalg.slogdet(hessian)[1])
    left_over = float(np.sqrt(np.mean(apart**2) * 2))
    return CoreFit(mix, float(weight), left_over, chi2 / apart.size, math.exp(at[0]), math.exp(at[1]), model)


def build_expected_covariance(freq_hz: Floats, z_ohm: Complexes) -> Floats:
    """Covariance (2F, 2F) of ln Z, real parts then phases, about the right table.

    Z = 2 Z0 (1 - S21)/S21: an error e of S21 is e (Z + 2 Z0)^2 / (2 Z0 Z) of Z, relative.
    """
    by_s21 = np.abs((z_ohm + 100) ** 2 / (100 * z_ohm)) * S21_NOISE
    near = TABLE_OFF**2 * winding_terms.frequency_correlation(freq_hz) + np.diag(by_s21**2 + 0.003**2)
    zero = np.zeros_like(near)
    return np.block([[near, zero], [zero, near]])


def stack_parts(relative: Complexes) -> Floats:
    """Real parts, then imaginary ones."""
    return np.concatenate([relative.real, relative.imag])


def thin_sweep(freq_hz: Floats, z_ohm: Complexes) -> tuple[Floats, Complexes]:
    """At most 40 points, evenly over ln f, where the sweep is known."""
    known = np.isfinite(z_ohm) & (np.abs(np.nan_to_num(z_ohm)) > 0)
    freq, values = freq_hz[known], z_ohm[known]
    if freq.size <= FITTED_POINTS:
        return freq, values
    wanted = np.geomspace(freq[0], freq[-1], FITTED_POINTS)
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
    by = np.stack([stack_parts(core_s / total_s), stack_parts(-stray_s / total_s)], axis=1)
    return 1 / total_s, by


# Which mix is this core? Every table held against the sweep, ranked, and what would decide where they are
# alike.

CERTAIN = 0.9  # from here on one mix is named

RULED_OUT = 0.01

# Beyond it not even the best table fits: another material, or not this winding. The right mix comes to 0.2
# and in five hundred simulated cores never beyond 0.5 (`tests/rf/diagnosis/test_core_identification.py`).
MOST_SURPRISE = 1.0

DECIDING_DISTANCE = 4.0  # standard deviations that settle it

FEWEST_POINTS = 8

LEAST_OCTAVES = 1.0

Answer = Literal["one", "cannot_tell", "none_fits"]


@dataclass(frozen=True)
class MixCandidate:
    """share: of the weight of all mixes with a table. ruled_out: below one in a hundred."""

    fit: CoreFit
    share: float
    ruled_out: bool


@dataclass(frozen=True)
class DecidingSweep:
    """A further sweep that would tell the two likeliest apart; apart: in standard deviations of a sweep."""

    turns: int
    from_hz: float
    to_hz: float
    apart: float


@dataclass(frozen=True)
class CoreIdentification:
    """candidates: likeliest first. covered: the part of the sweep that was compared, within every table.

    untabled: mixes that might be it and have no table. deciders: best first; empty where one is named.
    """

    answer: Answer
    candidates: tuple[MixCandidate, ...]
    covered_from_hz: float
    covered_to_hz: float
    swept_from_hz: float
    swept_to_hz: float
    freq_hz: Floats
    z_ohm: Complexes
    deciders: tuple[DecidingSweep, ...]


def identify_mix(
    tables: Mapping[str, Permeability],
    turns: int,
    freq_hz: Floats,
    z_ohm: Complexes,
    factor_m: float | None = None,
) -> CoreIdentification:
    """Ranks the mixes for `turns` on a core with this Z (F,), NaN where undefined.

    factor_m: Ae/le of the core, None where nobody measured it. Only frequencies that every table covers are
    compared, so that no mix is judged by more points than another. Raises BenchnightError
    `identify.turns`, or `identify.range` where less than an octave is left.
    """
    if turns < 1:
        raise BenchnightError("identify.turns", "Say how many turns are on the core.", field="turns")
    low = max(table.freq_hz[0] for table in tables.values())
    high = min(table.freq_hz[-1] for table in tables.values())
    freq, values = thin_sweep(*_within(freq_hz, z_ohm, float(low), float(high)))
    if freq.size < FEWEST_POINTS or math.log2(freq[-1] / freq[0]) < LEAST_OCTAVES:
        raise BenchnightError(
            "identify.range",
            f"The tables reach from {low / 1e6:.3g} to {high / 1e6:.3g} MHz: sweep at least an octave "
            "of that, with eight points or more.",
            field="sweep",
        )
    fits = [fit_mix(mix, table, turns, freq, values, factor_m) for mix, table in tables.items()]
    candidates = _ranked(fits)
    answer = _answer(candidates)
    return CoreIdentification(
        answer,
        candidates,
        float(freq[0]),
        float(freq[-1]),
        float(freq_hz[0]),
        float(freq_hz[-1]),
        freq,
        values,
        _deciders(tables, turns, candidates) if answer == "cannot_tell" else (),
    )


def _within(freq_hz: Floats, z_ohm: Complexes, low_hz: float, high_hz: float) -> tuple[Floats, Complexes]:
    inside = (freq_hz >= low_hz) & (freq_hz <= high_hz)
    return freq_hz[inside], z_ohm[inside]


def _ranked(fits: Sequence[CoreFit]) -> tuple[MixCandidate, ...]:
    best = max(each.weight for each in fits)
    weights = [math.exp(each.weight - best) for each in fits]
    total = sum(weights)
    made = [
        MixCandidate(each, weight / total, weight / total < RULED_OUT)
        for each, weight in zip(fits, weights, strict=True)
    ]
    return tuple(sorted(made, key=lambda each: -each.share))


def _answer(candidates: Sequence[MixCandidate]) -> Answer:
    best = candidates[0]
    if best.fit.surprise > MOST_SURPRISE:
        return "none_fits"
    return "one" if best.share >= CERTAIN else "cannot_tell"


def _deciders(
    tables: Mapping[str, Permeability], turns: int, candidates: Sequence[MixCandidate]
) -> tuple[DecidingSweep, ...]:
    """Other turns and ranges that set the two likeliest apart most, each with its core and wire as fitted."""
    first, second = candidates[0].fit, candidates[1].fit
    ranges = ((0.1e6, 10e6), (0.3e6, 30e6), (1e6, 30e6), (1e6, 90e6))
    asked = sorted({max(turns // 3, 1), max(turns // 2, 1), turns, turns * 2})
    found = []
    for count in asked:
        for from_hz, to_hz in ranges:
            freq = np.geomspace(from_hz, to_hz, 40)
            if tables[first.mix].covers(freq) and tables[second.mix].covers(freq):
                apart = _apart(tables, first, second, turns, count, freq)
                found.append(DecidingSweep(count, from_hz, to_hz, apart))
    # one that settles it with the turns that are on comes first: nothing has to be rewound
    found.sort(key=lambda each: (each.apart < DECIDING_DISTANCE, each.turns != turns, -each.apart))
    return tuple(found[:3])


def _apart(
    tables: Mapping[str, Permeability],
    first: CoreFit,
    second: CoreFit,
    turns: int,
    count: int,
    freq_hz: Floats,
) -> float:
    """How far the second mix, fitted to what the first would show, stays from it: standard deviations."""
    omega = 2 * np.pi * freq_hz
    stray_f = first.stray_f * (count / turns) ** 0.5
    inductance = MU0_H_PER_M * count**2 * first.factor_m
    log_mu = winding_terms.table_log_mu(tables[first.mix], freq_hz)
    would_show = 1 / (np.exp(-log_mu) / (1j * omega * inductance) + 1j * omega * stray_f)
    other = fit_mix(second.mix, tables[second.mix], count, freq_hz, would_show, first.factor_m)
    own = fit_mix(first.mix, tables[first.mix], count, freq_hz, would_show, first.factor_m)
    return math.sqrt(max(2 * (own.weight - other.weight), 0.0))
