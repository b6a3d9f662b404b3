"""Where one's own device stands among the devices of its design, as far as published figures tell.

Percentiles that are shown to everybody answer this. The exact figures do not: whoever sent in sweep after
sweep could else find each of them by its place.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np


def estimate_percentile(own: float, shown: Mapping[float, float]) -> float | None:
    """Estimate the place of `own`, 0..100, linear between the percentiles that are shown.

    shown: percentage -> figure, as rounded; at least two. Beyond the outer ones the place is that of the
    outer one, so it reads "at most" or "at least". Equal figures share the middle of their places. None for
    NaN.
    """
    if np.isnan(own):
        return None
    percents = np.array(sorted(shown), dtype=np.float64)
    figures = np.array([shown[each] for each in percents.tolist()], dtype=np.float64)
    equal = percents[figures == own]
    if equal.size:
        return float((equal[0] + equal[-1]) / 2)
    return float(np.interp(own, figures, percents))
