"""One posterior over everything that may be wrong with a winding: the only inference of this room.

A winding shows Y(f) = core/level + stray capacitance + what was added. Each hypothesis is such a winding
with one change: other turns, another mix, a gap, more capacitance, a leak, the jig, nothing, or none of
these. Level, capacitance and the size of an addition are unknown within their spreads and are integrated out
by Laplace's approximation about the best fit (textbook; MacKay, Information Theory, ch. 27, from memory). A
model misses much the same at neighbouring frequencies; how much is itself unknown, so each hypothesis is
weighed at two sizes of the misfit, which keeps shares from claiming more than a model can know.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from measurements.rf.ferrites import winding_terms
from measurements.rf.sweeps.sweep import Bools, Complexes, Floats

NAMED_FROM = 0.8  # a cause is named from this share on
NONE_OF_THESE, AS_BUILT = "none_of_these", "as_built"
NONE_PRIOR = 0.04
# What no model of ours knows of: this much of the whole belongs to none of these, however well one fits.
KEPT_BACK = 0.03
S21_NOISE = 0.0008  # of a hobby analyser, linear (common practice, no source)
MISFIT_SCALES = ((2.0, 0.25), (1.0, 0.75))  # size of the misfit in its usual size, and how likely it is
STARTS_KEPT = 2  # of the starts of one hypothesis: those that lie nearest before anything is fitted
UNKNOWN_LEVEL, UNKNOWN_SHAPE = (
    0.7,
    0.35,
)  # how far none of these may lie away: all over, and from octave to octave
MOST_SURPRISE = 1.3  # mean square of what is left in expected units; beyond it a fit explains nothing
FARTHEST_PULL = 3.5  # standard deviations that level or capacitance may be pulled for it
ROUNDS, LONGEST_STEP, SETTLED = 20, 0.7, 1e-3
FITTED_POINTS = 40  # of a sweep that are looked at, evenly over ln f


@dataclass(frozen=True)
class Hypothesis:
    """One thing that may be so. core_s, more_s: admittances (F,); stray_f: usual capacitance, farad.

    level_spread, stray_spread: standard deviations of their natural logarithms. more_s: one unit of what is
    added, None for nothing; more: mean and standard deviation of the logarithm of its size; in_core: the
    addition is part of the core (a gap). misfit: how far such a model departs from a curve, relative.
    count, mix: the turns or cores and the mix of it, where they are what changes.
    """

    code: str
    what: str
    prior: float
    core_s: Complexes
    stray_f: float
    level_spread: float
    stray_spread: float
    misfit: float
    more_s: Complexes | None = None
    more: tuple[float, float] = (0.0, 1.0)
    in_core: bool = False
    start: float | None = None
    count: int | None = None
    mix: str | None = None


@dataclass(frozen=True)
class WeighedHypothesis:
    """A hypothesis at its best fit. share: of all together. level, stray_f, more: as fitted.

    surprise: mean square of what is left, in expected units. pull: of level and capacitance, in standard
    deviations. left_over: rms of ln Z. z_ohm: (F,) as fitted.
    """

    given: Hypothesis
    share: float
    level: float
    stray_f: float
    more: float
    surprise: float
    pull: float
    left_over: float
    z_ohm: Complexes

    @property
    def explains(self) -> bool:
        """Say whether the fit leaves no more than its spreads allow."""
        return self.surprise <= MOST_SURPRISE and self.pull <= FARTHEST_PULL


@dataclass(frozen=True)
class ChangePosterior:
    """hypotheses: the likeliest first, each once. `none_of_these` is never without a share."""

    hypotheses: tuple[WeighedHypothesis, ...]

    @property
    def by_code(self) -> dict[str, float]:
        """Return the share of every code, the likeliest first."""
        found: dict[str, float] = defaultdict(float)
        for each in self.hypotheses:
            found[each.given.code] += each.share
        return dict(sorted(found.items(), key=lambda row: -row[1]))

    def best(self, code: str) -> WeighedHypothesis:
        """Find the likeliest hypothesis of a code."""
        return next(each for each in self.hypotheses if each.given.code == code)

    @property
    def named(self) -> WeighedHypothesis | None:
        """Return the best of the code that has four fifths of the posterior; None where none has.

        What does not explain the curve has no share.
        """
        code, share = next(iter(self.by_code.items()))
        silent = code in (NONE_OF_THESE, AS_BUILT) or share < NAMED_FROM
        return None if silent else self.best(code)


def weigh_hypotheses(
    given: Sequence[Hypothesis],
    freq_hz: Floats,
    z_ohm: Complexes,
    weight: Floats | None = None,
) -> ChangePosterior:
    """Weigh the posterior of `given`, one of them `as_built` or the likes, and of none of these, at (F,).

    The priors of `given` are brought to a sum of 0.96. weight: (F,) up to 1, less where a curve says less.
    """
    total_prior = sum(each.prior for each in {(e.code, e.what): e for e in given}.values())
    odds = np.log(NONE_PRIOR / (1 - NONE_PRIOR) * total_prior)
    given = _keep_nearest_starts(given, freq_hz, z_ohm)
    unknown = _Fitted.of(given[:1], freq_hz, z_ohm, weight, unknown=True)
    known = _Fitted.of(given, freq_hz, z_ohm, weight)
    log_weights = np.concatenate([known.log_evidence, unknown.log_evidence + odds])
    rows = [(each, known, index) for index, each in enumerate(given)]
    kept = _keep_best_starts(rows, log_weights)
    found = [known.at(index, each, 0.0) for each, index in kept]
    shares, none_share = compute_shares(
        log_weights[[index for _, index in kept]],
        float(log_weights[-1]),
        np.array([each.explains for each in found]),
    )
    found = [replace(each, share=float(share)) for each, share in zip(found, shares, strict=True)]
    none = Hypothesis(NONE_OF_THESE, "none of these", NONE_PRIOR, *_nothing(given[0]))
    found.append(unknown.at(0, none, none_share))
    return ChangePosterior(tuple(sorted(found, key=lambda each: -each.share)))


def compute_shares(log_weights: Floats, none_log_weight: float, explains: Bools) -> tuple[Floats, float]:
    """Compute the share of each hypothesis (H,), and that of none of these.

    log_weights: log evidence plus log prior. It leaves 3 % to causes that no model knows. What
    explains
    nothing is no explanation, however far behind the others are; and that nothing fits is not certain either.
    """
    top = max(float(log_weights.max()), none_log_weight)
    weights = np.exp(log_weights - top)
    shares = (1 - KEPT_BACK) * weights / (weights.sum() + np.exp(none_log_weight - top))
    shares = np.where(explains, shares, 0.0)
    if shares.sum() < KEPT_BACK:
        shares[int(np.argmax(weights))] = KEPT_BACK
    return shares, float(1 - shares.sum())


def _keep_nearest_starts(given: Sequence[Hypothesis], freq_hz: Floats, z_ohm: Complexes) -> list[Hypothesis]:
    """Keep of a hypothesis with several starts the two that lie nearest: a fit does not find past a
    resonance."""
    by_what: dict[tuple[str, str], list[Hypothesis]] = defaultdict(list)
    for each in given:
        by_what[each.code, each.what].append(each)
    kept: list[Hypothesis] = []
    for starts in by_what.values():
        if len(starts) > STARTS_KEPT:
            total_s = _Model(starts, freq_hz).admittance_at_start()
            far = np.mean(np.abs(np.log(z_ohm * total_s)) ** 2, axis=1)
            starts = [starts[row] for row in np.argsort(far)[:STARTS_KEPT]]
        kept += starts
    return kept


def _nothing(like: Hypothesis) -> tuple[Complexes, float, float, float, float]:
    return like.core_s, like.stray_f, like.level_spread, like.stray_spread, like.misfit


def _keep_best_starts(
    rows: Sequence[tuple[Hypothesis, _Fitted, int]], log_weights: Floats
) -> list[tuple[Hypothesis, int]]:
    """Keep one fit of each hypothesis: several starts find one size, and count once."""
    best: dict[tuple[str, str], tuple[Hypothesis, int]] = {}
    for each, _, index in rows:
        before = best.get((each.code, each.what))
        if before is None or log_weights[index] > log_weights[before[1]]:
            best[each.code, each.what] = each, index
    return list(best.values())


@dataclass(frozen=True)
class _Fitted:
    """All hypotheses at their best fit: unknowns (H, 3), admittances (H, F), log evidence (H,)."""

    freq_hz: Floats
    z_ohm: Complexes
    unknowns: Floats
    spreads: Floats
    log_evidence: Floats
    surprise: Floats
    left_over: Floats
    total_s: Complexes

    @classmethod
    def of(
        cls,
        given: Sequence[Hypothesis],
        freq_hz: Floats,
        z_ohm: Complexes,
        weight: Floats | None,
        *,
        unknown: bool = False,
    ) -> _Fitted:
        """Fit `given`; unknown: as none of these, which may lie anywhere about the first."""
        model = _Model(given, freq_hz)
        # one misfit for all in the evidence: a hypothesis must neither win nor lose by how much it may be off
        usual_misfit = min(each.misfit for each in given)
        misfits = np.full(len(given), usual_misfit)
        by_scale: list[tuple[float, _ScaleFit]] = []
        at = model.start
        for scale, share in MISFIT_SCALES:
            whiten = _Whitening(scale * misfits, freq_hz, z_ohm, weight, unknown=unknown)
            by_scale.append((share, model.fit(z_ohm, whiten, at)))
            at = by_scale[-1][1].unknowns
        evidence = np.array([np.log(share) + fit.log_evidence for share, fit in by_scale])
        if not unknown:
            evidence = evidence + np.log([each.prior for each in given])
        usual = by_scale[-1][1]
        return cls(
            freq_hz,
            z_ohm,
            usual.unknowns,
            model.spreads,
            np.logaddexp.reduce(evidence, axis=0),
            usual.surprise * np.array([(usual_misfit / each.misfit) ** 2 for each in given]),
            usual.left_over,
            usual.total_s,
        )

    def at(self, index: int, given: Hypothesis, share: float) -> WeighedHypothesis:
        """Build one of them with its share."""
        level, stray, more = self.unknowns[index]
        pull = float(np.abs(self.unknowns[index, :2] / self.spreads[index, :2]).max())
        return WeighedHypothesis(
            given,
            share,
            level=float(np.exp(level)),
            stray_f=given.stray_f * float(np.exp(stray)),
            more=0.0 if given.more_s is None else float(np.exp(more)),
            surprise=float(self.surprise[index]),
            pull=pull,
            left_over=float(self.left_over[index]),
            z_ohm=1 / self.total_s[index],
        )


@dataclass(frozen=True)
class _ScaleFit:
    unknowns: Floats
    log_evidence: Floats
    surprise: Floats
    left_over: Floats
    total_s: Complexes


class _Model:
    """Admittances of H hypotheses with their unknowns: ln level, ln stray, ln size of the addition (H, 3)."""

    def __init__(self, given: Sequence[Hypothesis], freq_hz: Floats) -> None:
        self.core_s = np.array([each.core_s for each in given])
        self.stray_s = 2j * np.pi * freq_hz * np.array([[each.stray_f] for each in given])
        nothing = np.zeros(freq_hz.size, dtype=np.complex128)
        self.more_s = np.array([nothing if each.more_s is None else each.more_s for each in given])
        self.in_core = np.array([[each.in_core] for each in given])
        self.means = np.array([[0.0, 0.0, each.more[0]] for each in given])
        self.spreads = np.array([[each.level_spread, each.stray_spread, each.more[1]] for each in given])
        starts = [each.more[0] if each.start is None else each.start for each in given]
        self.start = np.column_stack([self.means[:, :2], starts])

    def admittance_at_start(self) -> Complexes:
        """Compute the admittance (H, F)."""
        more = np.exp(self.start[:, 2:])
        found: Complexes = self.core_s + self.stray_s + self.more_s * more
        return found

    def fit(self, z_ohm: Complexes, whiten: _Whitening, start: Floats) -> _ScaleFit:
        """Fit by damped least squares from the start; evidence by Laplace without the prior of the
        hypothesis."""
        precision = 1 / self.spreads**2
        at, damping = start, np.full(len(start), 1e-2)
        apart, by, total_s = self._linearise(z_ohm, at, whiten)
        cost = self._cost(apart, precision, at)
        for _ in range(ROUNDS):
            hessian, slope = self._normal_equations(apart, by, precision, at)
            scale = np.einsum("hii->hi", hessian)[:, :, None] * np.eye(3)
            step = -np.linalg.solve(hessian + damping[:, None, None] * scale, slope[:, :, None])[:, :, 0]
            longest = np.abs(step).max(axis=1, keepdims=True)
            tried = at + step * np.minimum(1.0, LONGEST_STEP / np.maximum(longest, 1e-12))
            new = self._linearise(z_ohm, tried, whiten)
            tried_cost = self._cost(new[0], precision, tried)
            better = tried_cost <= cost
            settled = bool((longest[:, 0] < SETTLED)[better].all()) and bool(better.any())
            damping = np.clip(np.where(better, damping / 4, damping * 6), 1e-6, 1e6)
            at, cost = np.where(better[:, None], tried, at), np.where(better, tried_cost, cost)
            apart, total_s = (
                np.where(better[:, None], new[0], apart),
                np.where(better[:, None], new[2], total_s),
            )
            by = np.where(better[:, None, None], new[1], by)
            if settled:
                break
        hessian, _ = self._normal_equations(apart, by, precision, at)
        evidence = -cost - whiten.log_det
        evidence += 0.5 * (np.log(precision).sum(axis=1) - np.linalg.slogdet(hessian)[1])
        left_over = np.sqrt(np.mean(np.abs(np.log(z_ohm * total_s)) ** 2, axis=1))
        chi2 = (np.abs(apart) ** 2).sum(axis=1)
        return _ScaleFit(at, evidence, chi2 / (2 * z_ohm.size), left_over, total_s)

    def _cost(self, apart: Complexes, precision: Floats, at: Floats) -> Floats:
        away = (precision * (at - self.means) ** 2).sum(axis=1)
        found: Floats = 0.5 * ((np.abs(apart) ** 2).sum(axis=1) + away)
        return found

    def _linearise(
        self, z_ohm: Complexes, at: Floats, whiten: _Whitening
    ) -> tuple[Complexes, Complexes, Complexes]:
        """Compute what is left of ln Z (H, F) and how it moves (H, F, 3), both whitened; the admittance (H,
        F)."""
        level, stray, more = (np.exp(column)[:, None] for column in np.clip(at, -40, 40).T)
        core_s, stray_s = self.core_s / level, self.stray_s * stray
        more_s = self.more_s * more / np.where(self.in_core, level, 1.0)
        total_s = core_s + stray_s + more_s
        by_level = -(core_s + np.where(self.in_core, more_s, 0)) / total_s
        columns = np.stack([by_level, stray_s / total_s, more_s / total_s], axis=2)
        apart = np.log(z_ohm * total_s)
        return whiten(apart[:, :, None])[:, :, 0], whiten(columns), total_s

    def _normal_equations(
        self, apart: Complexes, by: Complexes, precision: Floats, at: Floats
    ) -> tuple[Floats, Floats]:
        turned = np.conj(by).transpose(0, 2, 1)
        hessian = (turned @ by).real + precision[:, :, None] * np.eye(3)
        slope = (turned @ apart[:, :, None]).real[:, :, 0] + precision * (at - self.means)
        return hessian, slope


class _Whitening:
    """Takes what is left of ln Z, and how it moves, to independent values of unit spread.

    Z = 2 Z0 (1 - S21)/S21: an error e of S21 is e (Z + 2 Z0)^2 / (2 Z0 Z) of Z, relative. The real part and
    the phase have the same covariance. unknown: as none of these, which may lie anywhere.
    """

    def __init__(
        self, misfits: Floats, freq_hz: Floats, z_ohm: Complexes, weight: Floats | None, *, unknown: bool
    ) -> None:
        by_s21 = np.abs((z_ohm + 100) ** 2 / (100 * z_ohm)) * S21_NOISE
        near = winding_terms.frequency_correlation(freq_hz)
        self.log_det: Floats = np.zeros(misfits.size)
        self._roots: list[tuple[Bools, Floats]] = []
        for misfit in np.unique(misfits):
            covariance = misfit**2 * near + np.diag(by_s21**2 + 0.005**2)
            if unknown:
                covariance = covariance + UNKNOWN_SHAPE**2 * near + UNKNOWN_LEVEL**2
            if weight is not None:
                covariance = covariance / np.outer(weight, weight)
            root = np.linalg.cholesky(covariance)
            rows = misfits == misfit
            self.log_det[rows] = 2 * float(np.log(np.diag(root)).sum())
            self._roots.append((rows, np.linalg.inv(root)))

    def __call__(self, values: Complexes) -> Complexes:
        """Return whiten values (H, F, n)."""
        found = np.empty_like(values)
        for rows, inverse in self._roots:
            found[rows] = inverse @ values[rows]
        return found


def thin_sweep(freq_hz: Floats, z_ohm: Complexes, points: int = FITTED_POINTS) -> tuple[Floats, Complexes]:
    """Return thin to at most `points` points, evenly over ln f, where the sweep is known."""
    known = np.isfinite(z_ohm) & (np.abs(np.nan_to_num(z_ohm)) > 0)
    freq, values = freq_hz[known], z_ohm[known]
    if freq.size <= points:
        return freq, values
    wanted = np.geomspace(freq[0], freq[-1], points)
    at = np.unique(np.abs(np.log(freq)[:, None] - np.log(wanted)[None, :]).argmin(axis=0))
    return freq[at], values[at]
