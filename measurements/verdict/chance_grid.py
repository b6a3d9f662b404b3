"""The grid that a design's posterior is computed on, made once for each usual spread and kept.

Unknown of a design: the middle mu of its good builds, their spread s, and the share p of bad builds.
A good build lies at N(mu, s^2), a bad one at N(mu - 15, s^2 + 25). Everything is in units of the metric
(`metric.py`: 1 dB of rejection, 0.1 dB of loss, 0.1 of SWR), larger is better. The priors are flat in mu,
ln s ~ N(ln s0, 0.45^2) and p ~ Beta(1, 9).

The density of a figure depends on its distance from mu alone, so that one table over distances serves all
designs: a likelihood is a sum of table rows.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import special

FloatArray = NDArray[np.float64]

BAD_SHIFT = 15.0  # how far bad builds lie below good ones, units
BAD_VARIANCE = 25.0  # how much more they differ from each other, units^2
BAD_SHARE_PRIOR = (1.0, 9.0)  # of a Beta distribution: one build in ten
LN_SPREAD_DEVIATION = 0.45  # how far spreads of designs differ, of ln s
# The prior of s is centred a little below the usual spread, at the most likely value of a log-normal whose
# median it is (e^-0.45^2 is 0.82) or its middle (0.90): by simulation 0.9 keeps all bounds of the verdict.
PRIOR_CENTRE = 0.9
# Of the offset of one jig, 1 unit^2 (house default): once for the jig of all figures, once for the reader's.
ONE_JIG_VARIANCE = 2.0

STEPS_PER_SPREAD = 16  # table rows to one usual spread
FARTHEST = 60.0  # units; a figure farther from mu counts as one at this distance

_SPREAD_REACH = 2.8  # standard deviations of ln s that the nodes reach to either side
_SPREAD_NODES = 15


@dataclass(frozen=True)
class ChanceGrid:
    """Tables over N distances d = n * step, n from -reach to +reach, and C combinations of s and p.

    step: units. log_density (N, C): of a figure at mu + d. passing, passing_one_jig (N, C): the chance that
    a new build passes where mu lies d above the limit. log_prior (C,): of the combinations.
    """

    step: float
    reach: int
    log_density: FloatArray
    passing: FloatArray
    passing_one_jig: FloatArray
    log_prior: FloatArray


@lru_cache(maxsize=16)
def build_chance_grid(usual_spread: float, share_nodes: int) -> ChanceGrid:
    """Build the tables for designs whose usual spread is `usual_spread` (units, above 0).

    share_nodes: how many shares of bad builds are tried; more devices need more. The nodes are those of a
    Gauss-Jacobi rule, so that the Beta prior is their weight. Raises ValueError for a spread not above 0.
    """
    if not usual_spread > 0:
        raise ValueError("A spread is above zero.")
    deviations = np.linspace(-_SPREAD_REACH, _SPREAD_REACH, _SPREAD_NODES, dtype=np.float64)
    spread = PRIOR_CENTRE * usual_spread * np.exp(LN_SPREAD_DEVIATION * deviations)
    share, share_weight = list_bad_shares(share_nodes, BAD_SHARE_PRIOR)
    step = usual_spread / STEPS_PER_SPREAD
    reach = int(np.ceil(FARTHEST / step))
    distance = step * np.arange(-reach, reach + 1, dtype=np.float64)
    log_prior = -(deviations[:, None] ** 2) / 2 + np.log(share_weight)
    return ChanceGrid(
        step=step,
        reach=reach,
        log_density=compute_log_density(distance, spread, share),
        passing=_compute_passing(distance, spread**2, share),
        passing_one_jig=_compute_passing(distance, spread**2 + ONE_JIG_VARIANCE, share),
        log_prior=log_prior.ravel(),
    )


def compute_log_density(distance: FloatArray, spread: FloatArray, share: FloatArray) -> FloatArray:
    """Compute the (N, S * K) natural logarithm of a figure's density at N distances above mu (units).

    spread: (S,) of good builds, units. share: (K,) of bad builds, 0..1 exclusive.
    """
    good = _compute_log_normal(distance, np.zeros(1), spread**2)[:, :, None] + np.log1p(-share)
    bad = _compute_log_normal(distance, np.array([-BAD_SHIFT]), spread**2 + BAD_VARIANCE)
    mixed: FloatArray = np.logaddexp(good, bad[:, :, None] + np.log(share))
    return mixed.reshape(distance.size, -1)


def _compute_log_normal(distance: FloatArray, middle: FloatArray, variance: FloatArray) -> FloatArray:
    squares = (distance[:, None] - middle) ** 2 / variance
    found: FloatArray = -(squares + np.log(2 * np.pi * variance)) / 2
    return found


def _compute_passing(distance: FloatArray, variance: FloatArray, share: FloatArray) -> FloatArray:
    good = special.ndtr(distance[:, None] / np.sqrt(variance))[:, :, None]
    bad = special.ndtr((distance[:, None] - BAD_SHIFT) / np.sqrt(variance + BAD_VARIANCE))[:, :, None]
    return np.asarray(good * (1 - share) + bad * share, dtype=np.float64).reshape(distance.size, -1)


def list_bad_shares(nodes: int, prior: tuple[float, float]) -> tuple[FloatArray, FloatArray]:
    """List shares of bad builds (0..1) and the weight of each under a Beta prior."""
    first, second = prior
    roots, weights = special.roots_jacobi(nodes, second - 1, first - 1)
    return (1 + roots) / 2, weights / weights.sum()
