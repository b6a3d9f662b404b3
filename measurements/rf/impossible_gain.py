"""Sweeps that together describe a device which gives out more power than it takes: two were mixed up."""

from __future__ import annotations

import numpy as np

from .flags import Flag, flag
from .sweep import Floats

LEAST_GAIN_DB = 0.1  # house default, beside the stated uncertainty
LEAST_SHARE = 0.05  # of all points: a single noisy point near a resonance is no mix-up


def gain_flags(loss_db: Floats, uncertainty_db: Floats, roles: str) -> tuple[Flag, ...]:
    """A flag where the loss is negative beyond its uncertainty over a good part of the sweep.

    loss_db, uncertainty_db: (F,), NaN where undefined. roles: the sweeps to check, for the sentence.
    """
    with np.errstate(invalid="ignore"):
        gains = -loss_db > LEAST_GAIN_DB + np.nan_to_num(uncertainty_db)
    if gains.mean() < LEAST_SHARE:
        return ()
    return (flag("impossible_gain", gain_db=f"{-np.nanmin(loss_db):.1f}", roles=roles),)
