"""One-sided normal tolerance bound: the rejection that most devices of a design stay above.

"With 90 % confidence, at least 90 % of builds reject at least this much": mean - k s, with the exact
factor k from the noncentral t distribution, not an approximation. It supposes that the worst-in-band
rejections of a design's devices are normally distributed in decibels (common practice, no source),
which is why the verdict itself never rests on it.

Source: NIST/SEMATECH e-Handbook 7.2.6.3 (which prints Natrella's approximation beside the exact form).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from scipy import special

MIN_DEVICES = 5  # under this the factor is so large (4.26 at 3) that the bound says nothing
SHARE = 0.90
CONFIDENCE = 0.90


@lru_cache(maxsize=4096)
def compute_tolerance_factor(n: int, p: float = SHARE, confidence: float = CONFIDENCE) -> float:
    """Return exact one-sided tolerance factor k, dimensionless.

    n: number of values, at least 2. p: share to be covered, confidence: probability of doing so.
    k = t(confidence; n - 1, sqrt(n) z_p) / sqrt(n), the noncentral t quantile.

    Raises ValueError outside n >= 2, 0 < p < 1, 0 < confidence < 1.
    """
    if n < 2 or not 0 < p < 1 or not 0 < confidence < 1:
        raise ValueError("A tolerance factor needs two values or more, and shares between 0 and 1.")
    root = float(np.sqrt(n))
    return float(special.nctdtrit(n - 1, root * float(special.ndtri(p)), confidence)) / root
