"""Per frequency, the middle and the 10 to 90 % band of a design's curves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True)
class CurveBand:
    """Percentiles on a grid of G frequencies, each (G,), in the unit of the curves.

    NaN where fewer contributors than the threshold have a value: at the ends of the grid only the
    widest sweeps are left, and two of them would be two persons' own curves.
    devices, contributors: (G,) how many have a value there, exact.
    """

    median: NDArray[np.float64]
    p10: NDArray[np.float64]
    p90: NDArray[np.float64]
    devices: NDArray[np.int64]
    contributors: NDArray[np.int64]


def compute_curve_band(
    curves: ArrayLike, contributor: ArrayLike, min_contributors: int = 3
) -> CurveBand | None:
    """Return median, 10th and 90th percentile of n curves at each of G frequencies.

    curves: (n, G) real, NaN where a sweep does not reach. contributor: (n,) whole numbers, one per curve.
    Percentiles are linear between order statistics. None where no frequency has enough contributors.
    Raises ValueError for shapes that do not match.
    """
    values = np.asarray(curves, dtype=np.float64)
    owner = np.asarray(contributor, dtype=np.int64)
    if values.ndim != 2 or owner.shape != (values.shape[0],):
        raise ValueError("Curves are (n, G), with one contributor for each curve.")
    present = ~np.isnan(values)
    contributors = _count_contributors(present, owner)
    enough = contributors >= max(min_contributors, 1)
    if not bool(enough.any()):
        return None
    percentiles = np.full((3, values.shape[1]), np.nan)
    percentiles[:, enough] = _compute_quantiles(values[:, enough], (0.5, 0.1, 0.9))
    return CurveBand(
        percentiles[0], percentiles[1], percentiles[2], present.sum(axis=0, dtype=np.int64), contributors
    )


def _count_contributors(present: NDArray[np.bool_], owner: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return (G,) how many owners have at least one curve that is there."""
    order = np.argsort(owner, kind="stable")
    starts = np.flatnonzero(np.diff(owner[order], prepend=owner[order][:1] - 1))
    found: NDArray[np.int64] = np.logical_or.reduceat(present[order], starts, axis=0).sum(
        axis=0, dtype=np.int64
    )
    return found


def _compute_quantiles(values: NDArray[np.float64], at: tuple[float, ...]) -> NDArray[np.float64]:
    """Return (len(at), G) as `numpy.nanpercentile` gives them, by one sort; every column has a number or
    more.
    """
    ordered = np.sort(values, axis=0)  # NaN last
    last = (~np.isnan(values)).sum(axis=0) - 1
    column = np.arange(values.shape[1])
    found = np.empty((len(at), values.shape[1]))
    for row, quantile in enumerate(at):
        position = last * quantile
        below = np.floor(position).astype(np.int64)
        low, high = ordered[below, column], ordered[np.minimum(below + 1, last), column]
        found[row] = low + (position - below) * (high - low)
    return found
