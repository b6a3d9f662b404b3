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

from . import residual_error, two_port
from .doubtful_loss import impossible
from .loss_curve import LossCurve
from .method_inputs import complex_column, load_ohm, nominal_load_ohm, together
from .request import Request
from .smoothing import SENTENCE, Smoother
from .sweep import Complexes, Floats

ROLES = ("far_open", "far_short", "far_load")


def reconstructed(far_open: Complexes, far_short: Complexes, far_load: Complexes) -> Complexes:
    """Three reflections, (F,) each, to S (F, 2, 2) with references (Z0, R): port 2 is the far side.

    S12 = S21, and their common sign is not known (nor needed for any loss).
    """
    apart = far_open - far_short
    s22 = two_port.divided(far_open + far_short - 2 * far_load, apart)
    through = two_port.divided(2 * (far_open - far_load) * (far_load - far_short), apart)
    s21 = two_port.continuous_sqrt(through)
    return two_port.stacked(np.asarray(far_load, complex), s21, s21, s22)


def into_nominal(
    far_open: Complexes,
    far_short: Complexes,
    far_load: Complexes,
    *,
    z0_ohm: float,
    load_ohm: float,
    nominal_ohm: float,
) -> Complexes:
    """The two-port with references (Z0, nominal load), though the load swept was `load_ohm`."""
    s = reconstructed(far_open, far_short, far_load)
    return two_port.renormalised(s, (z0_ohm, load_ohm), (z0_ohm, nominal_ohm))


def curve(request: Request) -> LossCurve:
    """Loss of one device from `far_open`, `far_short` and `far_load`; needs S11 with phase of each."""
    sweeps = together(request, ROLES)
    load, flags = load_ohm(request)
    smooth = Smoother(sweeps[0].freq_hz)
    reflections = tuple(
        smooth(complex_column(sweep, 0, 0, role)) for sweep, role in zip(sweeps, ROLES, strict=True)
    )
    z0, nominal = float(sweeps[0].z0_ohm[0]), nominal_load_ohm(request)

    def two_port_of(*given: Complexes) -> Complexes:
        return into_nominal(*given, z0_ohm=z0, load_ohm=load, nominal_ohm=nominal)

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
        assumption=f"The device is linear and reciprocal; its load was {load:g} ohm. {SENTENCE}",
        flags=flags + impossible(loss_db, uncertainty_db, "far_open, far_short and far_load"),
    )
