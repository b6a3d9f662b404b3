"""How far each group's bench reads from the others', band by band: offsets as random effects.

A figure is x = m(design) + o(group) + e. Designs are fixed, offsets are o ~ N(0, t^2), and e has Student's t
distribution of three degrees, so that a bad build passes for no offset. t and the spread of e follow from the
figures themselves (the mixed-model equations of Henderson, Biometrics 31
(1975), 423-447, from memory). Only designs that several groups tested say anything. A device that was carried
from group to group, such as a check standard, is a design of its own with a small spread.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

DEGREES = 3.0  # of e: one build in ten is far off
ROUNDS = 60
CERTAIN_AT = 3.5  # standard deviations; `tests/verdict/test_group_offsets.py` counts false alarms
LEAST_TOLD = 0.5  # units
LEAST_SHARED = 15  # figures of shared designs; with fewer the deviation itself is not known
CARRIED_SPREAD = 0.5  # units, of a carried device's figures: repeatability and no build (house default)


@dataclass(frozen=True)
class GroupOffsets:
    """Offsets of G groups on one band, each (G,), in the unit of the figures, counted from the mean of all.

    offset, deviation: of each group by its own figures alone, as if nothing were known of groups; inf where
    it shares no design. expected, expected_deviation: with the usual spread between groups as prior.
    shared: figures of designs that another group tested too. spread: of builds; between: of groups; standard
    deviations.
    """

    offset: FloatArray
    deviation: FloatArray
    expected: FloatArray
    expected_deviation: FloatArray
    shared: IntArray
    spread: float
    between: float

    def is_certain(self) -> NDArray[np.bool_]:
        """Tell (G,) whether an offset is too large to be chance and to be left alone."""
        certain: NDArray[np.bool_] = np.abs(self.offset) > np.maximum(CERTAIN_AT * self.deviation, LEAST_TOLD)
        return certain & (self.shared >= LEAST_SHARED)


def estimate_offsets(
    value: ArrayLike, design: ArrayLike, group: ArrayLike, groups: int, carried: ArrayLike | None = None
) -> GroupOffsets | None:
    """Estimate the offset of each group on one band; None where no two groups share a design.

    value (N,): one figure a person and design, NaN left out. design, group (N,): indices from 0.
    carried (N,): whether the figure is of a device that was carried round.
    """
    x, d, g = (np.asarray(each) for each in (value, design, group))
    there = np.isfinite(x.astype(np.float64))
    carried_all = np.zeros(x.shape, dtype=bool) if carried is None else np.asarray(carried, dtype=bool)
    x, d, g, moved = x[there].astype(np.float64), d[there], g[there], carried_all[there]
    keep = _is_shared(d, g)
    if not keep.any():
        return None
    x, g, moved = x[keep], g[keep], moved[keep]
    _, d = np.unique(d[keep], return_inverse=True)
    middle, alone = _find_middles(x, d), np.zeros(groups)
    between = spread = _find_spread(x - middle[d], 0)
    shared = np.bincount(g, minlength=groups)
    for last in range(ROUNDS, -1, -1):
        left = x - middle[d] - alone[g]
        spread = _find_spread(left[~moved], middle.size)
        pull, precision = _bound_pull(left / spread)
        precision *= max(left.size - middle.size - groups, 1) / left.size
        # a bad build pulls as one that is a little off: figures as if all were of one normal distribution
        bounded = np.where(moved, x, x - left + spread * pull)
        weight = np.where(moved, CARRIED_SPREAD**-2, precision / spread**2)
        expected, covariance, middle = _solve(bounded, d, g, weight, between, groups)
        found = _build_offsets(expected, np.diag(covariance), shared, spread, between)
        alone = np.where(np.isfinite(found.deviation), found.offset, 0.0)
        if last:  # the prior that is taken out again is the one that went in
            between = max(float(np.sqrt(np.mean(expected**2 + np.diag(covariance)))), 0.02)
    return found


def _find_spread(left: FloatArray, middles: int) -> float:
    """Find the spread of what is left, from its median size: 1.4826 of that for a normal distribution."""
    share = left.size / max(left.size - middles, 1)
    return max(1.4826 * float(np.median(np.abs(left))) * float(np.sqrt(share)), 0.05)


def _bound_pull(left: FloatArray) -> tuple[FloatArray, float]:
    """Bound how far each figure pulls, and give the precision of one, both in spreads.

    One step of Newton's method with the score of Student's t distribution: pull = score / mean slope, with
    precision slope^2 / mean score^2 (Huber, Robust Statistics (1981), chapter 3, from memory).
    """
    score = (DEGREES + 1) * left / (DEGREES + left**2)
    slope = float(np.mean((DEGREES + 1) * (DEGREES - left**2) / (DEGREES + left**2) ** 2))
    slope = max(slope, 0.1)
    return score / slope, slope**2 / max(float(np.mean(score**2)), 1e-9)


def _build_offsets(
    expected: FloatArray, variance: FloatArray, shared: IntArray, spread: float, between: float
) -> GroupOffsets:
    """Take the prior out again: 1/v = 1/v(alone) + 1/t^2, and likewise for the means."""
    said = np.maximum(1 / variance - 1 / between**2, 0)
    known = said > 1e-9
    share = np.where(known, said, 1.0)
    offset = np.where(known, expected / variance / share, 0.0)
    deviation = np.where(known, 1 / np.sqrt(share), np.inf)
    return GroupOffsets(offset, deviation, expected, np.sqrt(variance), shared, spread, between)


def _is_shared(design: IntArray, group: IntArray) -> NDArray[np.bool_]:
    pairs = np.unique(np.stack([design, group], axis=1), axis=0)
    of_design = np.bincount(pairs[:, 0], minlength=int(design.max(initial=0)) + 1)
    shared: NDArray[np.bool_] = of_design[design] >= 2
    return shared


def _find_middles(x: FloatArray, design: IntArray) -> FloatArray:
    """Find the median of each design."""
    order = np.lexsort((x, design))
    counts = np.bincount(design)
    starts, ordered = np.cumsum(counts) - counts, x[order]
    middles: FloatArray = (ordered[starts + (counts - 1) // 2] + ordered[starts + counts // 2]) / 2
    return middles


def _solve(
    x: FloatArray, d: IntArray, g: IntArray, precision: FloatArray, between: float, groups: int
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Solve the mixed-model equations with the designs eliminated: offsets, their covariance, middles."""
    designs = int(d.max()) + 1
    crossed = np.zeros((designs, groups))
    np.add.at(crossed, (d, g), precision)
    of_design = crossed.sum(axis=1)
    summed = np.bincount(d, precision * x, designs)
    left = np.diag(crossed.sum(axis=0)) - crossed.T @ (crossed / of_design[:, None])
    right = np.bincount(g, precision * x, groups) - crossed.T @ (summed / of_design)
    covariance = np.linalg.inv(left + np.eye(groups) / between**2)
    offset = covariance @ right
    return offset, covariance, (summed - crossed @ offset) / of_design
