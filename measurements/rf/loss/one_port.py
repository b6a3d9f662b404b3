"""`one_port`: a whole reciprocal two-port out of three reflections of its unbalanced side.

The far side is left open, shorted, and ended in its nominal load R as measured. With Zo, Zs, Zl the
three input impedances, q = R (Zo-Zl)/(Zl-Zs), C = 1/sqrt((Zo-Zs) q), D = qC, A = Zo C, B = Zs D.
The same two-port is written here in reflections, with references (Z0, R), where the load is a match:

    S11 = Gl,   S22 = (Go + Gs - 2 Gl)/(Go - Gs),   S12 S21 = 2 (Go - Gl)(Gl - Gs)/(Go - Gs)

which needs no infinite Zo and no zero Zs: an ideal transformer (Go = 1, Gs = -1) is an ordinary point. Only
Go = Gs has no answer (the far side cannot be seen from the near side): NaN there.
"""

from __future__ import annotations

import numpy as np

from measurements.rf.instruments import residual_error
from measurements.rf.instruments.smoothing import SMOOTHING_SENTENCE, Smoother
from measurements.rf.instruments.sweep_checks import flag_impossible_loss
from measurements.rf.networks import two_port
from measurements.rf.request import (
    LossCurve,
    Request,
    get_complex_column,
    get_load_ohm,
    get_matching_sweeps,
    get_nominal_load_ohm,
)
from measurements.rf.sweeps.sweep import Complexes, Floats

FAR_SIDE_ROLES = ("far_open", "far_short", "far_load")


def reconstruct_two_port(far_open: Complexes, far_short: Complexes, far_load: Complexes) -> Complexes:
    """Three reflections, (F,) each, to S (F, 2, 2) with references (Z0, R): port 2 is the far side.

    S12 = S21, and their common sign is not known (nor needed for any loss).
    """
    apart = far_open - far_short
    s22 = two_port.divide_or_nan(far_open + far_short - 2 * far_load, apart)
    through = two_port.divide_or_nan(2 * (far_open - far_load) * (far_load - far_short), apart)
    s21 = two_port.continuous_sqrt(through)
    return two_port.stack_two_port(np.asarray(far_load, complex), s21, s21, s22)


def refer_to_nominal_load(
    far_open: Complexes,
    far_short: Complexes,
    far_load: Complexes,
    *,
    z0_ohm: float,
    load_ohm: float,
    nominal_ohm: float,
) -> Complexes:
    """The two-port with references (Z0, nominal load), though the load swept was `load_ohm`."""
    s = reconstruct_two_port(far_open, far_short, far_load)
    return two_port.renormalise_s(s, (z0_ohm, load_ohm), (z0_ohm, nominal_ohm))


def compute_loss(request: Request) -> LossCurve:
    """Loss of one device from `far_open`, `far_short` and `far_load`; needs S11 with phase of each."""
    sweeps = get_matching_sweeps(request, FAR_SIDE_ROLES)
    load, flags = get_load_ohm(request)
    smooth = Smoother(sweeps[0].freq_hz)
    reflections = tuple(
        smooth(get_complex_column(sweep, 0, 0, role))
        for sweep, role in zip(sweeps, FAR_SIDE_ROLES, strict=True)
    )
    z0, nominal = float(sweeps[0].z0_ohm[0]), get_nominal_load_ohm(request)

    def two_port_of(*given: Complexes) -> Complexes:
        return refer_to_nominal_load(*given, z0_ohm=z0, load_ohm=load, nominal_ohm=nominal)

    def loss_of(*given: Complexes) -> Floats:
        return two_port.loss_db(two_port_of(*given)[:, 1, 0])

    s = two_port_of(*reflections)
    loss_db = loss_of(*reflections)
    mismatch_db = two_port.mismatch_db(s[:, 0, 0])
    uncertainty_db = residual_error.largest_change_db(loss_of, reflections, request.reflection_error)
    return LossCurve(
        freq_hz=sweeps[0].freq_hz,
        loss_db=loss_db,
        mismatch_db=mismatch_db,
        dissipative_db=loss_db - mismatch_db,
        uncertainty_db=uncertainty_db,
        assumption=f"The device is linear and reciprocal; its load was {load:g} ohm. {SMOOTHING_SENTENCE}",
        flags=flags + flag_impossible_loss(loss_db, uncertainty_db, "far_open, far_short and far_load"),
    )
