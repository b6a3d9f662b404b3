"""SWR and return loss of a reflection. Source: checks.md section 3."""

from __future__ import annotations

import numpy as np

from . import two_port
from .sweep import Complexes, Floats


def swr(s11: Complexes | Floats) -> Floats:
    """(1+|S11|)/(1-|S11|), (F,); infinite where everything (or, by noise, more) is reflected.

    Infinity is kept, not NaN, so that such a point is the worst of its band; it leaves a result as None.
    """
    magnitude = np.abs(np.asarray(s11))
    out = np.where(np.isnan(magnitude), np.nan, np.inf)
    np.divide(1 + magnitude, 1 - magnitude, out=out, where=magnitude < 1)
    return out


def return_loss_db(s11: Complexes | Floats) -> Floats:
    """-20 log10 |S11|, (F,); NaN where nothing at all is reflected."""
    return two_port.loss_db(s11)
