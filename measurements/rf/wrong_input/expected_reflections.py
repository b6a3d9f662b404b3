"""The reflection that a sound transformer shows rightly wired, and in the usual wrong wirings.

An ideal r:1 transformer turns a load R on its far side into R/r at its near side, and the other way round
into R r (closed form). A sweep whose S11 keeps to a wrong wiring over most of the sweep, and away from the
right one, was wired so.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from measurements.rf.impedance_ratio import NOMINAL_OHM
from measurements.rf.sweeps.sweep import Complexes

_NEAR = 0.2  # of the wrong wiring's reflection, at half of the points at least
_APART = 0.35  # the two wirings must differ by more, or nobody can tell
_LOW_SHARE = 0.6  # of the sweep in octaves: leakage does not yet turn a reflection there


def reflect_ohm(ohm: float) -> float:
    """Return the reflection of a resistance at 50 ohm."""
    return (ohm - NOMINAL_OHM) / (ohm + NOMINAL_OHM)


def find_wrong_wiring(
    freq_hz: np.ndarray[tuple[int], np.dtype[np.float64]],
    s11: Complexes,
    right_ohm: float,
    wrong_ohm: Mapping[str, float],
) -> str | None:
    """Return the name of the wrong wiring that S11 (F,) keeps to; None where it keeps to none of them.

    right_ohm: input resistance of a sound device rightly wired. wrong_ohm: name -> the same, wrongly wired.
    """
    right = reflect_ohm(right_ohm)
    start = max(float(freq_hz[0]), 1.0)
    low = freq_hz <= start * (freq_hz[-1] / start) ** _LOW_SHARE
    nearest, best = None, _NEAR
    for name, ohm in wrong_ohm.items():
        wrong = reflect_ohm(ohm)
        if abs(wrong - right) < _APART:
            continue
        away = min(float(np.median(np.abs(part - wrong))) for part in (s11, s11[low]) if part.size)
        from_right = float(np.median(np.abs(s11 - right)))
        if away < best and away < 0.5 * from_right:
            nearest, best = name, away
    return nearest
