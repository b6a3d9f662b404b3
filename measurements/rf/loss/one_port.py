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

from measurements.rf.instruments import port_errors, resistors
from measurements.rf.instruments.error_budget import ErrorTerm, Values, propagate
from measurements.rf.instruments.smoothing import SMOOTHING_SENTENCE, Smoother
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
    """Return three reflections, (F,) each, to S (F, 2, 2) with references (Z0, R): port 2 is the far side.

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
    """Return the two-port with references (Z0, nominal load), though the load swept was `load_ohm`."""
    s = reconstruct_two_port(far_open, far_short, far_load)
    return two_port.renormalise_s(s, (z0_ohm, load_ohm), (z0_ohm, nominal_ohm))


def find_nominal_reflection(
    far_open: Complexes, far_short: Complexes, far_load: Complexes, load_share: Complexes | float
) -> Complexes:
    """Return reflection (..., F) with the nominal load, from the one with a load of `load_share` times that.

    The cross-ratio of four ends is that of the four reflections: with w = share (Gx-Go)/(Gx-Gs) the
    reflection is (Go - w Gs)/(1 - w). Source: invariance of the cross-ratio (own derivation).
    """
    weight = load_share * two_port.divide_or_nan(far_load - far_open, far_load - far_short)
    return two_port.divide_or_nan(far_open - weight * far_short, 1 - weight)


def compute_power_share(far_open: Complexes, far_short: Complexes, nominal: Complexes) -> Floats:
    """Return |S21|^2 = |2 (Go-Gl)(Gl-Gs)/(Go-Gs)| (..., F) into the nominal load."""
    share = two_port.divide_or_nan(2 * (far_open - nominal) * (nominal - far_short), far_open - far_short)
    return np.abs(share)


def compute_reflected_db(values: Values) -> Floats:
    """Return loss, and its dissipative part, as (2, ..., F).

    values: the readings "far_open", "far_short", "far_load" and "load_share".
    """
    far_open, far_short = values["far_open"], values["far_short"]
    nominal = find_nominal_reflection(far_open, far_short, values["far_load"], values["load_share"])
    loss_db = two_port.power_loss_db(compute_power_share(far_open, far_short, nominal))
    return np.stack([loss_db, loss_db - two_port.mismatch_db(nominal)])


def list_load_terms(request: Request, freq_hz: Floats, load_ohm: float) -> list[ErrorTerm]:
    """Return terms of the far load's own value, reading "load_share" (load over nominal load)."""
    nominal_ohm = get_nominal_load_ohm(request)
    tolerance = resistors.get_tolerance(request.analyser, request.load_ohm, nominal_ohm)
    across, along = resistors.compute_stray_changes_ohm(freq_hz, load_ohm)
    share = np.full(freq_hz.shape, load_ohm / nominal_ohm + 0j)
    return [
        ErrorTerm("load", "interval", {"load_share": tolerance * share}),
        ErrorTerm("load capacitance", "stray", {"load_share": across / nominal_ohm}),
        ErrorTerm("load inductance", "stray", {"load_share": along / nominal_ohm}),
    ]


def compute_loss(request: Request) -> LossCurve:
    """Return loss of one device from `far_open`, `far_short` and `far_load`; needs S11 with phase of each."""
    sweeps = get_matching_sweeps(request, FAR_SIDE_ROLES)
    load, flags = get_load_ohm(request)
    freq_hz = sweeps[0].freq_hz
    smooth = Smoother(freq_hz)
    reflections = {
        role: smooth(get_complex_column(sweep, 0, 0, role))
        for sweep, role in zip(sweeps, FAR_SIDE_ROLES, strict=True)
    }
    share = np.full(freq_hz.shape, load / get_nominal_load_ohm(request) + 0j)
    values = {**reflections, "load_share": share}
    terms = [
        *port_errors.list_reflection_terms(request.analyser, reflections),
        *list_load_terms(request, freq_hz, load),
    ]
    loss_db, heat_db = compute_reflected_db(values)
    loss_spread_db, heat_spread_db = propagate(compute_reflected_db, values, terms)
    return LossCurve(
        freq_hz=freq_hz,
        loss_db=loss_db,
        mismatch_db=loss_db - heat_db,
        dissipative_db=heat_db,
        uncertainty_db=loss_spread_db,
        dissipative_uncertainty_db=heat_spread_db,
        assumption=f"The device is linear and reciprocal; its load was {load:g} ohm. {SMOOTHING_SENTENCE}",
        flags=flags,
    )
