"""`direct`: loss is -20 log10 |S21|, as it stands.

For a 1:1 device that is its loss. For any other ratio the reading contains the mismatch of the ratio
itself (ideal 4:1 1.938 dB, 9:1 4.437 dB): the floor is shown beside it and no verdict is passed.
"""

from __future__ import annotations

from fractions import Fraction
from math import log10

import numpy as np

from measurements.rf.flags import Flag, build_flag
from measurements.rf.impedance_ratio import format_ratio
from measurements.rf.instruments import residual_error
from measurements.rf.loss.series_resistor import largest_passive_reflection
from measurements.rf.networks import two_port
from measurements.rf.request import LossCurve, Request
from measurements.rf.sweeps.sweep import Floats, Sweep


def compute_loss(request: Request) -> LossCurve:
    """Loss from S21 of `sweep`; the split where S11 was measured. Needs no phase."""
    sweep = request.sweep("sweep")
    loss_db = two_port.loss_db(sweep.column(1, 0))
    mismatch_db = two_port.mismatch_db(sweep.s[:, 0, 0]) if sweep.measured[0, 0] else None
    floor_db = ratio_floor_db(request.ratio)
    matched = request.ratio == 1
    references = " and ".join(f"{z0:g}" for z0 in sweep.z0_ohm[:2])
    return LossCurve(
        freq_hz=sweep.freq_hz,
        loss_db=loss_db,
        mismatch_db=mismatch_db,
        dissipative_db=None if mismatch_db is None else loss_db - mismatch_db,
        uncertainty_db=_uncertainty_db(sweep, loss_db, request.reflection_error),
        assumption=f"The loss is that between {references} ohm, the references of the sweep.",
        judged=matched,
        floor_db=None if matched else floor_db,
        flags=() if matched else _floor_flag(request.ratio, floor_db),
    )


def ratio_floor_db(ratio: Fraction) -> float:
    """What an ideal r:1 transformer reads between equal ports, -10 log10(4r/(1+r)^2)."""
    r = float(ratio)
    return -10.0 * log10(4 * r / (1 + r) ** 2) + 0.0


def _floor_flag(ratio: Fraction, floor_db: float) -> tuple[Flag, ...]:
    return (build_flag("ratio_floor", ratio=format_ratio(ratio), floor_db=f"{floor_db:.3f}"),)


def _uncertainty_db(sweep: Sweep, loss_db: Floats, error: float) -> Floats:
    """Residual match errors at either port against the device; a reflection not measured is bounded."""
    bound = largest_passive_reflection(loss_db)
    s11 = np.abs(sweep.s[:, 0, 0]) if sweep.measured[0, 0] else bound
    s22 = np.abs(sweep.s[:, 1, 1]) if sweep.measured[1, 1] else bound
    return residual_error.transmission_change_db(s11, s22, error)
