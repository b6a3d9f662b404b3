"""Bounds of a rejection near the open jig, where a reading may be too low or too high.

The stray capacitance of the open jig lies beside the device and can resonate with it. What is certain without
taking the jig out: the admittance of device and jig together is Ym, that of the jig alone Yo, so the
device's own
lies between | |Ym| - |Yo| | and |Ym| + |Yo| (triangle inequality). The least rejection for an impedance of
known size is that of a pure reactance, the greatest that of a pure resistance.
"""

from __future__ import annotations

import numpy as np

from measurements.rf.sweeps.sweep import Complexes, Floats


def compute_rejection_bounds(
    transmission: Complexes, floor_db: Floats, *, phase_known: bool
) -> tuple[Floats, Floats]:
    """Compute the least and the greatest rejection, dB, (N, G) each, that the readings allow.

    transmission: (N, G) relative to a direct connection, the jig's stray in it. floor_db: (G,) rejection of
    the
    open jig. All admittances are in units of 1/(2 Z0), where S = y/(1 + y), so y = S/(1 - S).
    A floor or a reading of 0 dB says nothing: the bounds there are 0 and infinity.
    """
    jig = 10 ** (-floor_db / 20)
    with np.errstate(divide="ignore", invalid="ignore"):
        stray = np.where(jig < 1, jig / (1 - jig), np.inf)  # no open jig of this floor has more
        if phase_known:
            low = high = np.abs(transmission / (1 - transmission))
        else:
            size = np.abs(transmission)
            low, high = size / (1 + size), np.where(size < 1, size / (1 - size), np.inf)
        least = 10 * np.log10(1 + 1 / (high + stray) ** 2)
        left = np.maximum(low - stray, 0.0)
        greatest = np.where(left > 0, 20 * np.log10(1 + 1 / left), np.inf)
    return np.where(np.isnan(least), 0.0, least), np.where(np.isnan(greatest), np.inf, greatest)
