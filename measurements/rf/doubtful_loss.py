"""A loss that cannot be right: the sweeps together describe a device which gives out more than it takes."""

from __future__ import annotations

import numpy as np

from .flags import Flag, flag
from .sweep import Floats

LEAST_GAIN_DB = 0.1  # house default, beside the stated uncertainty
LEAST_SHARE = 0.05  # of all points: a single noisy point near a resonance is no mix-up


def impossible(loss_db: Floats, uncertainty_db: Floats, roles: str) -> tuple[Flag, ...]:
    """A flag where the loss is negative beyond its uncertainty over a good part of the sweep: a mix-up.

    loss_db, uncertainty_db: (F,), NaN where undefined. roles: the sweeps to check, for the sentence.
    """
    gains = -loss_db > LEAST_GAIN_DB + np.nan_to_num(uncertainty_db)  # NaN compares as False
    if gains.mean() < LEAST_SHARE:
        return ()
    return (flag("impossible_gain", gain_db=f"{-np.nanmin(loss_db):.1f}", roles=roles),)
