"""Figures that no passive device has: gain, or a resistance below zero, beyond the uncertainty.

They mean that a resistor was forgotten, files were mixed up, a partner's loss is wrong or a calibration does
not hold. Such a figure is never judged. Noise alone passes 1.5 U (three standard deviations) at one point in
a thousand, and a band or a sweep is not condemned for less.
"""

from __future__ import annotations

import numpy as np

from measurements.rf.bands import BandGrid
from measurements.rf.flags import Flag, build_flag
from measurements.rf.sweeps.sweep import Bools, Floats

IMPOSSIBLE_GAIN = "impossible_gain", "impossible_gain_in_band"
NEGATIVE_RESISTANCE = "negative_resistance", "negative_resistance_in_band"
BEYOND = 1.5  # of U: three standard deviations
LEAST_SHARE = 0.05  # of the points of a sweep: from here on the whole test is in doubt


def find_below_zero(values: Floats, uncertainty: Floats) -> Bools:
    """Return (F,) where a figure that cannot be negative is, beyond its uncertainty. False where nobody can
    tell.
    """
    with np.errstate(invalid="ignore"):
        found: Bools = np.isfinite(values) & (-values > BEYOND * uncertainty)
    return found


def flag_impossible_points(
    on: BandGrid, below: Bools, values: Floats, *, codes: tuple[str, str], unit: str, **sentence: str
) -> tuple[Flag, ...]:
    """Return one flag on the whole test where a good part of the sweep is impossible; else one on each such
    band.

    below: (G,) of `find_below_zero`. values: (G,) the figure itself, negative there. codes: the flag on the
    whole test, and the one on a band.
    """
    if not below.any():
        return ()

    def build(where: Bools, band: str | None) -> Flag:
        size = f"{-np.min(values[where]):.3g}{unit}"
        return build_flag(codes[band is not None], band=band, size=size, **sentence)

    if below[on.measured].mean() >= LEAST_SHARE:
        return (build(below, None),)
    found = []
    for view in on.views:
        inside = np.zeros(below.shape, dtype=np.bool_)
        inside[view.inside] = below[view.inside]
        if inside.any():
            found.append(build(inside, view.band.name))
    return tuple(found)
