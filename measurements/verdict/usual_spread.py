"""How far the builds of a group's designs usually spread: what a design of few devices is judged with.

The usual spread s0 is the one that makes the figures of all designs likeliest: the likelihood of a design's
spread s is taken over all middles and shares of bad builds (the model of `chance_grid.py`), and s0 maximises
the product over designs of its mean over ln s ~ N(ln s0, 0.45^2). So a bad build in a design does not pass
for spread. A design's bands are not independent: their log likelihoods are averaged.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from measurements.verdict.chance import LEAST_PERSONS
from measurements.verdict.chance_grid import (
    BAD_SHARE_PRIOR,
    FARTHEST,
    LN_SPREAD_DEVIATION,
    compute_log_density,
    list_bad_shares,
)

FloatArray = NDArray[np.float64]

LEAST_DESIGNS = 8  # with three persons each; before, a spread of the group says nothing
STEP = 0.25  # units from one middle to the next
_LN_SPREADS = np.linspace(np.log(0.2), np.log(12.0), 36)
_SHARE_NODES = 4
_ROUNDED_TO = 20  # steps of a twentieth of ln s0: a release with little news then changes nothing

# One band of a design: (figures in units, weight of each), see `chance.Figures`.
BandFigures = tuple[FloatArray, FloatArray]


def estimate_usual_spread(designs: Iterable[Sequence[BandFigures]]) -> float | None:
    """Estimate the usual spread (units); None while fewer than eight designs have three persons.

    designs: for each design the figures of each of its bands; bands under three persons do not count.
    """
    found = []
    for bands in designs:
        own = [_compute_log_likelihood(*band) for band in bands if band[1].sum() >= LEAST_PERSONS - 1e-9]
        if own:
            found.append(np.mean(own, axis=0))
    if len(found) < LEAST_DESIGNS:
        return None
    likelihood = np.exp([each - each.max() for each in found])
    apart = (_LN_SPREADS[:, None] - _LN_SPREADS) / LN_SPREAD_DEVIATION
    prior = np.exp(-(apart**2) / 2)
    prior /= prior.sum(axis=1, keepdims=True)
    support = np.log(likelihood @ prior.T).sum(axis=0)
    return _round_spread(_find_peak(support))


def _compute_log_likelihood(value: FloatArray, weight: FloatArray) -> FloatArray:
    """Compute the (S,) log likelihood of each spread, over all middles and shares of bad builds."""
    table, share_weight = _build_table()
    rows = np.rint(value / STEP).astype(np.int64)
    reach = int(FARTHEST / STEP)
    middles = np.arange(rows.min() - reach // 4, rows.max() + reach // 4)
    apart = np.clip(rows[:, None] - middles, -reach, reach) + reach
    total = sum(share * table[each] for each, share in zip(apart, weight, strict=True))
    by_spread = np.asarray(total).reshape(middles.size, _LN_SPREADS.size, -1)
    # of many figures an unlikely spread would be nothing at all beside the likeliest one
    peak = by_spread.max(axis=(0, 2))
    summed = (np.exp(by_spread - peak[:, None]).sum(axis=0) * share_weight).sum(axis=1)
    return np.asarray(np.log(summed) + peak, dtype=np.float64)


@lru_cache(maxsize=1)
def _build_table() -> tuple[FloatArray, FloatArray]:
    reach = int(FARTHEST / STEP)
    share, weight = list_bad_shares(_SHARE_NODES, BAD_SHARE_PRIOR)
    distance = STEP * np.arange(-reach, reach + 1, dtype=np.float64)
    return compute_log_density(distance, np.exp(_LN_SPREADS), share), weight


def _find_peak(support: FloatArray) -> float:
    """Find ln s at the peak, by a parabola through the best node and its neighbours."""
    best = int(np.clip(support.argmax(), 1, support.size - 2))
    before, at, after = support[best - 1 : best + 2]
    bend = before - 2 * at + after
    shift = float(np.clip(0.5 * (before - after) / bend, -1, 1)) if bend < 0 else 0.0
    return float(_LN_SPREADS[best] + shift * (_LN_SPREADS[1] - _LN_SPREADS[0]))


def _round_spread(ln_spread: float) -> float:
    return round(float(np.exp(round(ln_spread * _ROUNDED_TO) / _ROUNDED_TO)), 4)
