"""The chance that a device newly built by somebody else passes: the basis of every verdict.

Start here: `compute_chances` takes the figures of many designs at once. Where the group knows how far its
designs usually spread (`usual_spread.py`) the chance is the mean over a posterior on a grid
(`chance_grid.py`); until then it is that of Student's t distribution for one further figure.

A person's devices count as one figure together: each has the weight 1 / (devices of that person), in the
likelihood as in mean and variance. Somebody who built three alike brings no more certainty than somebody
who built one, and three that differ still show how far builds differ.

Where all figures come from one jig, its offset (standard deviation of one unit) is in all of them alike, so
that no number of devices averages it out; and the reader's own jig has an offset that they do not show.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from measurements.verdict.chance_grid import ONE_JIG_VARIANCE, STEPS_PER_SPREAD, ChanceGrid, build_chance_grid

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LEAST_PERSONS = 3
FEW_PERSONS = 10  # up to here few values of the share of bad builds do
MANY_PERSONS = 40  # from here on the middle is known finely, and the grid is made finer
_FEW_SHARES, _MANY_SHARES = 4, 10
_COARSE_STRIDE = 4  # table rows from one mu to the next: a quarter of the usual spread
_PAD_SPREADS = 3.0  # how far mu is tried beyond the figures, usual spreads


@dataclass(frozen=True)
class Figures:
    """The voting figures of D designs, one row for each device, in units, larger is better.

    value: (N,). design: (N,) index 0..D-1, ascending. weight: (N,), above 0; those of a design add up to its
    persons. persons: (D,). one_jig: (D,) whether all figures of a design come from one jig.
    """

    value: FloatArray
    design: IntArray
    weight: FloatArray
    persons: IntArray
    one_jig: NDArray[np.bool_]


def compute_chances(figures: Figures, limit: float, usual_spread: float | None) -> FloatArray:
    """Compute the (D,) chance that a new build of somebody else passes `limit`; NaN under three persons.

    usual_spread: of the group's designs, units; None where it is not known yet.
    """
    if usual_spread is None:
        return _compute_student_chances(figures, limit)
    chances = np.full(figures.persons.shape, np.nan)
    starts = np.searchsorted(figures.design, np.arange(figures.persons.size + 1))
    for index in np.flatnonzero(figures.persons >= LEAST_PERSONS):
        own = slice(starts[index], starts[index + 1])
        persons = int(figures.persons[index])
        grid = build_chance_grid(usual_spread, _FEW_SHARES if persons <= FEW_PERSONS else _MANY_SHARES)
        passing = grid.passing_one_jig if figures.one_jig[index] else grid.passing
        chances[index] = _average_over_posterior(
            grid, passing, figures.value[own] - limit, figures.weight[own], persons
        )
    return chances


def _average_over_posterior(
    grid: ChanceGrid, passing: FloatArray, margin: FloatArray, weight: FloatArray, persons: int
) -> float:
    """Average `passing` over the posterior of one design, from margins to the limit (units)."""
    # figures of many persons are binned as finely as mu is tried; it widens their spread by a quarter percent
    width = 1 if persons <= FEW_PERSONS else _COARSE_STRIDE
    rows = np.rint(margin / (grid.step * width)).astype(np.int64) * width
    rows, place = np.unique(rows, return_inverse=True)
    weight_of_row = np.bincount(place, weight).astype(np.float64)
    middles = _list_middles(rows, weight_of_row, persons)
    apart = np.clip(rows[:, None] - middles, -grid.reach, grid.reach) + grid.reach
    log_posterior = np.tile(grid.log_prior, (middles.size, 1))
    for each, share in zip(apart, weight_of_row, strict=True):
        log_posterior += share * grid.log_density[each]
    posterior = np.exp(log_posterior - log_posterior.max())
    above = np.clip(middles, -grid.reach, grid.reach) + grid.reach
    return float((posterior * passing[above]).sum() / posterior.sum())


def _list_middles(rows: IntArray, weight: FloatArray, persons: int) -> IntArray:
    """List the table rows at which mu is tried: around all figures, or the upper three quarters of many."""
    pad = int(_PAD_SPREADS * STEPS_PER_SPREAD)
    low, high, stride = rows[0] - pad, rows[-1] + pad, _COARSE_STRIDE
    if persons > MANY_PERSONS:
        # bad builds are fewer than half, so mu lies above the lower quarter of the figures
        position = np.searchsorted(np.cumsum(weight), 0.25 * weight.sum())
        low = rows[position] - STEPS_PER_SPREAD
        high = rows[-1] + STEPS_PER_SPREAD
        stride = max(1, int(_COARSE_STRIDE * np.sqrt(MANY_PERSONS / persons)))
    return np.arange(low, high + stride, stride, dtype=np.int64)


def _compute_student_chances(figures: Figures, limit: float) -> FloatArray:
    """Compute P(t of n - 1 degrees <= (mean - limit) / sqrt(s^2 (1 + 1/n) + jig)) for n persons.

    Source: the prediction interval of one further observation, for example Hahn and Meeker, Statistical
    Intervals (1991), section 4.7 (from memory).
    """
    chances = np.full(figures.persons.shape, np.nan)
    judged = figures.persons >= LEAST_PERSONS
    n = np.where(judged, figures.persons, LEAST_PERSONS).astype(np.float64)
    count = figures.persons.size
    mean = np.bincount(figures.design, figures.weight * figures.value, count) / n
    squares = np.bincount(figures.design, figures.weight * (figures.value - mean[figures.design]) ** 2, count)
    variance = squares / (n - 1) * (1 + 1 / n) + np.where(figures.one_jig, ONE_JIG_VARIANCE, 0.0)
    margin = mean - limit
    # equal figures have no spread: each then passes or fails for certain
    score = np.divide(
        margin, np.sqrt(variance), out=np.where(margin >= 0, np.inf, -np.inf), where=variance > 0
    )
    chances[judged] = special.stdtr(n - 1, score)[judged]
    return chances
