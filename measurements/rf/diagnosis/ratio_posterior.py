"""The one posterior, asked of a ratio device's sweep: same rules and shares as for windings, another circuit.

Unknowns have unit-normal priors, so each hypothesis is fitted by damped least squares and weighed by
Laplace's
approximation (textbook; MacKay, Information Theory, ch. 27, from memory). What the analyser gets wrong
changes
slowly over frequency; how large it is is weighed at two sizes, as in `change_posterior`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from measurements.rf.diagnosis import change_posterior
from measurements.rf.diagnosis.change_posterior import (
    AS_BUILT,
    MISFIT_SCALES,
    MOST_SURPRISE,
    NAMED_FROM,
    NONE_OF_THESE,
    NONE_PRIOR,
)
from measurements.rf.diagnosis.ratio_hypotheses import RatioHypothesis, list_ratio_hypotheses
from measurements.rf.diagnosis.ratio_model import UNKNOWNS, RatioModel, RatioSweep
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.ratio_windings import RatioWinding
from measurements.rf.sweeps.sweep import Complexes, Floats

# Standard deviations of a hobby analyser calibrated at the clips (common practice, no source): slow, then
# noise.
S11_ERROR, S11_NOISE, LOSS_ERROR_DB, LOSS_NOISE_DB = 0.01, 0.003, 0.05, 0.02
# A cause that is there pulls no unknown by more than 2.1 standard deviations in 95 of 100 simulated cases; a
# fit that needs more is a coincidence, often of two things at once.
FARTHEST_PULL = 2.65
# How far none of these may lie from the recipe: all over, and from octave to octave.
UNKNOWN_S11, UNKNOWN_LOSS_DB = (0.3, 0.2), (1.0, 0.6)
FITTED_POINTS, FEWEST_POINTS, LEAST_OCTAVES = 24, 10, 1.5
ROUNDS, SETTLED, STEP, LONGEST = 25, 1e-3, 1e-4, 1.5


@dataclass(frozen=True)
class WeighedRatio:
    """A hypothesis at its best fit. share: of all together. size: of its change, 0 where it has none.

    surprise: mean square of what is left, in expected units. pull: of the unknowns, in standard deviations.
    s11, loss_db: (F,) as fitted.
    """

    given: RatioHypothesis
    share: float
    size: float
    surprise: float
    pull: float
    s11: Complexes
    loss_db: Floats

    @property
    def explains(self) -> bool:
        """Say whether the fit leaves no more than its spreads allow."""
        return self.surprise <= MOST_SURPRISE and self.pull <= FARTHEST_PULL


@dataclass(frozen=True)
class RatioPosterior:
    """hypotheses: the likeliest first. none_share: of none of these. sweep: the points that were looked
    at.
    """

    hypotheses: tuple[WeighedRatio, ...]
    none_share: float
    sweep: RatioSweep

    @property
    def by_code(self) -> dict[str, float]:
        """Return the share of every code, the likeliest first."""
        found: dict[str, float] = defaultdict(float)
        for each in self.hypotheses:
            found[each.given.code] += each.share
        found[NONE_OF_THESE] = self.none_share
        return dict(sorted(found.items(), key=lambda row: -row[1]))

    def best(self, code: str) -> WeighedRatio:
        """Find the likeliest hypothesis of a code."""
        return next(each for each in self.hypotheses if each.given.code == code)

    @property
    def named(self) -> WeighedRatio | None:
        """Return the best of the code that has four fifths of the posterior; None where none has."""
        code, share = next(iter(self.by_code.items()))
        silent = code in (NONE_OF_THESE, AS_BUILT) or share < NAMED_FROM
        return None if silent else self.best(code)


def weigh_ratio_hypotheses(
    wound: RatioWinding, sweep: RatioSweep, tables: Mapping[str, Permeability]
) -> RatioPosterior | None:
    """Weigh what a sweep says of a voltage device; None where nothing can be said.

    That is of a current device, without a table of the mix, or with fewer than ten points or one and a
    half octaves
    within that table and within the reach of the circuit.
    """
    own = tables.get(wound.mix)
    if wound.principle != "voltage" or own is None:
        return None
    thin = _thin(sweep, own, wound.lumped_to_hz)
    if thin is None:
        return None
    mu = {name: table.at(thin.freq_hz) for name, table in tables.items() if table.covers(thin.freq_hz)}
    given = list_ratio_hypotheses(wound, mu)
    models = [RatioModel(wound, each.change, mu, thin) for each in given]
    fits = [_fit_starts(model, each.starts) for model, each in zip(models, given, strict=True)]
    log_weights = np.array([fit.log_evidence for fit in fits]) + np.log([each.prior for each in given])
    none = _weigh_unknown(models[0]) + np.log(NONE_PRIOR / (1 - NONE_PRIOR) * sum(e.prior for e in given))
    found = [_conclude(each, model, fit) for each, model, fit in zip(given, models, fits, strict=True)]
    shares, none_share = change_posterior.compute_shares(
        log_weights, float(none), np.array([each.explains for each in found])
    )
    found = [replace(each, share=float(share)) for each, share in zip(found, shares, strict=True)]
    return RatioPosterior(tuple(sorted(found, key=lambda each: -each.share)), none_share, thin)


def _thin(sweep: RatioSweep, table: Permeability, most_hz: float) -> RatioSweep | None:
    """Thin to 24 points, evenly over ln f, within the table and the circuit."""
    freq = sweep.freq_hz
    loss_db = np.zeros(freq.size) if sweep.loss_db is None else sweep.loss_db
    within = (freq >= table.freq_hz[0]) & (freq <= min(table.freq_hz[-1], most_hz))
    usable = np.flatnonzero(within & np.isfinite(sweep.s11) & np.isfinite(loss_db))
    if usable.size < FEWEST_POINTS or np.log2(freq[usable[-1]] / freq[usable[0]]) < LEAST_OCTAVES:
        return None
    wanted = np.geomspace(freq[usable[0]], freq[usable[-1]], FITTED_POINTS)
    at = usable[np.unique(np.abs(np.log(freq[usable])[:, None] - np.log(wanted)).argmin(axis=0))]
    kept = None if sweep.loss_db is None else sweep.loss_db[at]
    return RatioSweep(freq[at], sweep.s11[at], sweep.load_ohm, kept)


@dataclass(frozen=True)
class _Fit:
    unknowns: Floats
    log_evidence: float
    surprise: float


def _fit_starts(model: RatioModel, starts: tuple[float, ...]) -> _Fit:
    """Fit from each start of the size and keep the best."""
    return max((_fit(model, start) for start in starts), key=lambda fit: fit.log_evidence)


def _fit(model: RatioModel, start: float) -> _Fit:
    at: Floats = np.zeros(UNKNOWNS + 1)
    at[-1] = start
    evidence: list[float] = []
    surprise = 0.0
    for scale, share in MISFIT_SCALES:
        whiten = _Whitening(model.sweep, scale)
        at, cost, left, hessian = _descend(model, whiten, at)
        evidence.append(float(np.log(share) - cost - whiten.log_det - 0.5 * np.linalg.slogdet(hessian)[1]))
        surprise = float(np.mean(left**2))
    return _Fit(at, float(np.logaddexp.reduce(evidence)), surprise)


def _descend(model: RatioModel, whiten: _Whitening, at: Floats) -> tuple[Floats, float, Floats, Floats]:
    """Find the most likely unknowns by damped least squares (Levenberg and Marquardt; textbook)."""
    damping, left, by = 1e-2, *_linearise(model, whiten, at)
    cost = 0.5 * float(left @ left + at @ at)
    for _ in range(ROUNDS):
        hessian = by.T @ by + np.eye(at.size)
        step = -np.linalg.solve(hessian + damping * np.diag(np.diag(hessian)), by.T @ left + at)
        step *= min(1.0, LONGEST / max(float(np.abs(step).max()), 1e-12))
        tried_left, tried_by = _linearise(model, whiten, at + step)
        tried = 0.5 * float(tried_left @ tried_left + (at + step) @ (at + step))
        if tried <= cost:
            at, left, by, gained, cost = at + step, tried_left, tried_by, cost - tried, tried
            damping = max(damping / 5, 1e-7)
            if gained < SETTLED:
                break
        else:
            damping *= 8
            if damping > 1e6:
                break
    return at, cost, left, by.T @ by + np.eye(at.size)


def _linearise(model: RatioModel, whiten: _Whitening, at: Floats) -> tuple[Floats, Floats]:
    """Compute what is left (n,) and how it moves with each unknown (n, U), whitened, by small moves."""
    rows = at + STEP * np.vstack([np.zeros(at.size), np.eye(at.size)])
    left = whiten(*model.compute(rows))
    return left[0], (left[1:] - left[0]).T / STEP


class _Whitening:
    """Takes differences from the sweep to independent values of unit spread."""

    def __init__(self, sweep: RatioSweep, scale: float, *, unknown: bool = False) -> None:
        self.sweep = sweep
        octaves = np.log2(sweep.freq_hz)
        near = np.exp(-np.abs(octaves[:, None] - octaves[None, :]))
        self._s11 = self._root(near, scale * S11_ERROR, scale * S11_NOISE, UNKNOWN_S11 if unknown else None)
        loss = UNKNOWN_LOSS_DB if unknown else None
        self._loss = self._root(near, scale * LOSS_ERROR_DB, scale * LOSS_NOISE_DB, loss)
        self.log_det = 2 * float(np.log(1 / np.diag(self._s11)).sum())
        if sweep.loss_db is not None:
            self.log_det += float(np.log(1 / np.diag(self._loss)).sum())

    @staticmethod
    def _root(near: Floats, slow: float, noise: float, unknown: tuple[float, float] | None) -> Floats:
        covariance = slow**2 * near + noise**2 * np.eye(len(near))
        if unknown is not None:
            covariance = covariance + unknown[0] ** 2 + unknown[1] ** 2 * near
        found: Floats = np.linalg.inv(np.linalg.cholesky(covariance))
        return found

    def __call__(self, s11: Complexes, loss_db: Floats) -> Floats:
        """Whiten S11 and loss (S, F); answers (S, n)."""
        apart = s11 - self.sweep.s11
        parts = [apart.real @ self._s11.T, apart.imag @ self._s11.T]
        if self.sweep.loss_db is not None:
            parts.append((loss_db - self.sweep.loss_db) @ self._loss.T)
        found: Floats = np.concatenate(parts, axis=1)
        return found


def _weigh_unknown(model: RatioModel) -> float:
    """Weigh none of these: a curve that may lie anywhere about the recipe's middle device."""
    whiten = _Whitening(model.sweep, 1.0, unknown=True)
    left = whiten(*model.compute(np.zeros((1, UNKNOWNS + 1))))[0]
    return float(-0.5 * left @ left - whiten.log_det)


def _conclude(given: RatioHypothesis, model: RatioModel, fit: _Fit) -> WeighedRatio:
    s11, loss_db = model.compute(fit.unknowns[None])
    sized = bool(given.change.size)
    size = float(np.exp(given.change.middle + given.change.spread * fit.unknowns[-1])) if sized else 0.0
    pull = float(np.abs(fit.unknowns[:UNKNOWNS]).max())
    return WeighedRatio(given, 0.0, size, fit.surprise, pull, s11[0], loss_db[0])
