"""Wilson score interval of a proportion: how sure k passes out of n devices make us.

Source: E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212; recommended for small n by the
NIST/SEMATECH e-Handbook 7.2.4.1 and by Newcombe, Stat. Med. 17 (1998) 857-872 (its method 3).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy import special

FloatArray = NDArray[np.float64]

CONFIDENCE = 0.90  # one-sided, each way; 0.95 would be the usual two-sided 90 % interval


def compute_wilson_intervals(
    k: ArrayLike, n: ArrayLike, confidence: float = CONFIDENCE
) -> tuple[FloatArray, FloatArray]:
    """Return lower and upper Wilson bounds of k/n, each one-sided at `confidence`, for arrays of counts.

    k, n: whole numbers of passes and of devices, any shapes that broadcast together.
    confidence: probability on each side alone, 0.5 < confidence < 1.
    Returns (low, high) in 0..1, NaN where n is 0: nothing is known there.

    Raises ValueError unless 0 <= k <= n and the confidence is in range.

    With z the normal quantile of `confidence` and p = k/n:
    (p + z^2/2n +- z sqrt(p(1-p)/n + z^2/4n^2)) / (1 + z^2/n).
    At k = 0 the lower and at k = n the upper bound are 0 and 1 exactly, not to rounding error.
    """
    if not 0.5 < confidence < 1.0:
        raise ValueError("The one-sided confidence must lie between 0.5 and 1.")
    passing, devices = np.broadcast_arrays(np.asarray(k, dtype=np.float64), np.asarray(n, dtype=np.float64))
    if not bool(np.all((passing >= 0) & (passing <= devices))):
        raise ValueError("Passes must be between 0 and the number of devices.")
    z = float(special.ndtri(confidence))
    known = np.where(devices > 0, devices, np.nan)
    share = passing / known
    spread = z * np.sqrt(share * (1 - share) / known + z**2 / (4 * known**2))
    middle = share + z**2 / (2 * known)
    scale = 1 + z**2 / known
    low = np.where(passing == 0, 0.0 * known, (middle - spread) / scale)
    high = np.where(passing == devices, 1.0 + 0.0 * known, (middle + spread) / scale)
    return low, high


def compute_wilson_interval(k: int, n: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Return the same for one pair of counts; raises ValueError for n = 0, of which nothing can be said."""
    if n == 0:
        raise ValueError("No devices: there is no proportion to bound.")
    low, high = compute_wilson_intervals(k, n, confidence)
    return float(low), float(high)
