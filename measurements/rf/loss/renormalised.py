"""`renormalised`: any ratio from a full two-port, its references changed to (Z0, ratio x Z0).

Exact for a linear two-port, and straight from S to S, so a through or an ideal transformer (which has no
Z matrix) is exact too.
"""

from __future__ import annotations

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.instruments import residual_error
from measurements.rf.networks import two_port
from measurements.rf.request import LossCurve, Request
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep


def compute_loss(request: Request) -> LossCurve:
    """Loss between Z0 and ratio x Z0 from all four S-parameters of `sweep`.

    Raises BenchnightError `insertion_loss.full_two_port` where one of them was not measured.
    """
    sweep = request.sweep("sweep")
    if sweep.ports != 2 or not sweep.measured.all() or sweep.magnitude_only:
        raise BenchnightError(
            "insertion_loss.full_two_port",
            "Changing the reference needs all four S-parameters with phase. Sweep again with the device "
            "turned round and send that as sweep_reversed, or choose series_resistor or one_port.",
            field="sweep",
        )
    z0 = float(sweep.z0_ohm[0])
    far = float(request.ratio) * z0
    s = two_port.renormalise_s(sweep.s, (z0, float(sweep.z0_ohm[1])), (z0, far))
    loss_db = two_port.loss_db(s[:, 1, 0])
    mismatch_db = two_port.mismatch_db(s[:, 0, 0])
    return LossCurve(
        freq_hz=sweep.freq_hz,
        loss_db=loss_db,
        mismatch_db=mismatch_db,
        dissipative_db=loss_db - mismatch_db,
        uncertainty_db=_uncertainty_db(sweep, s, far, request.reflection_error),
        assumption=f"The device is linear; the loss is that between {z0:g} and {far:g} ohm.",
    )


def _uncertainty_db(sweep: Sweep, s: Complexes, far_ohm: float, error: float) -> Floats:
    """What a residual reflection error makes of the loss.

    S21' = S21 sqrt(1-g^2)/(1 - g S22) with g = (far-z2)/(far+z2): an error of S22 weighs by g/(1 - g S22),
    and the reading of S21 suffers from the residual match at either port.
    """
    z2 = float(sweep.z0_ohm[1])
    g = (far_ohm - z2) / (far_ohm + z2)
    s22 = sweep.s[:, 1, 1]
    weight = np.abs(two_port.divide_or_nan(g, 1 - g * s22))
    reading_db = residual_error.transmission_change_db(np.abs(sweep.s[:, 0, 0]), np.abs(s22), error)
    return residual_error.joint_change_db(weight, error) + reading_db
