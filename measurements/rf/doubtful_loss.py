"""What stands beside a computed loss that cannot be right, or does not exist at some points."""

from __future__ import annotations

import numpy as np

from .flags import Flag, flag
from .sweep import Floats

LEAST_GAIN_DB = 0.1  # house default, beside the stated uncertainty
LEAST_SHARE = 0.05  # of all points: a single noisy point near a resonance is no mix-up


def doubts(loss_db: Floats, uncertainty_db: Floats, roles: str) -> tuple[Flag, ...]:
    """Flags of a loss computed from several traces.

    loss_db, uncertainty_db: (F,), NaN where undefined. roles: the sweeps to check, for the sentence.
    """
    return impossible(loss_db, uncertainty_db, roles) + undefined(loss_db)


def impossible(loss_db: Floats, uncertainty_db: Floats, roles: str) -> tuple[Flag, ...]:
    """A flag where the loss is negative beyond its uncertainty over a good part of the sweep: a mix-up."""
    gains = -loss_db > LEAST_GAIN_DB + np.nan_to_num(uncertainty_db)  # NaN compares as False
    if gains.mean() < LEAST_SHARE:
        return ()
    return (flag("impossible_gain", gain_db=f"{-np.nanmin(loss_db):.1f}", roles=roles),)


def undefined(loss_db: Floats) -> tuple[Flag, ...]:
    """A note where the loss is NaN: nothing gets through there, or nothing can be told."""
    count = int(np.isnan(loss_db).sum())
    if count == 0:
        return ()
    reason = "nothing gets through the device there, or the sweeps do not tell its ends apart"
    return (flag("undefined_points", count=count, quantity="the loss", reason=reason),)
