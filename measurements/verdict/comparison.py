"""Where one's own device stands among the published devices of its design."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True)
class Comparison:
    """own_db among `devices` values: percentile 0..100; distance from their median, dB, positive above."""

    own_db: float
    devices: int
    percentile: float
    median_db: float
    from_median_db: float


def compare_with_design(own_db: float, values_db: ArrayLike) -> Comparison | None:
    """Place `own_db` among `values_db`, worst-in-band rejections on the same band, dB.

    values_db: (n,) the published values; NaN (band not covered) is left out. Whether the own device is
    one of them makes no difference to the rule, and cannot be told from published evidence.
    Mid-rank: equal values count half, so an own value in the middle of its equals is at 50.
    None when nothing is published for the band, or the own sweep does not cover it (NaN).
    """
    values = np.asarray(values_db, dtype=np.float64)
    values = values[~np.isnan(values)]
    if values.size == 0 or np.isnan(own_db):
        return None
    below = np.count_nonzero(values < own_db)
    equal = np.count_nonzero(values == own_db)
    median_db = float(np.median(values))
    return Comparison(
        own_db=float(own_db),
        devices=int(values.size),
        percentile=100.0 * (below + 0.5 * equal) / values.size,
        median_db=median_db,
        from_median_db=float(own_db) - median_db,
    )
