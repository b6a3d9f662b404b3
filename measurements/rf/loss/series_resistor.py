"""`series_resistor`: any ratio in a 50-ohm system, with a resistor that makes 50 ohm into the nominal load.

Rs = (ratio-1) x 50 ohm lies between the far terminal and the port-2 centre, so the device sees Rs + Z0. The
reading takes Rs for lost; what the device loses is -20 log10 |S21| - 10 log10((Rs+Z0)/Z0), exact for a linear
two-port (own derivation; no published source for the correction is known). S11 is then the device's own
reflection in its load, so it splits the loss as it stands.
"""

from __future__ import annotations

from math import log10

import numpy as np

from measurements.rf.flags import Flag, build_flag
from measurements.rf.instruments import residual_error
from measurements.rf.networks import two_port
from measurements.rf.request import LossCurve, Request, get_nominal_load_ohm, get_series_ohm
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

OFF_NOMINAL = 0.05  # relative; house default for what still counts as the nominal load


def compute_loss(request: Request) -> LossCurve:
    """Loss between Z0 and Rs + Z0 from S21 of `sweep`, or between Z0 and ratio x 50 from a full two-port."""
    sweep = request.sweep("sweep")
    rs, flags = get_series_ohm(request)
    nominal = get_nominal_load_ohm(request)
    s11: Complexes | None = None
    if sweep.measured.all() and not sweep.magnitude_only:
        s = remove_series_resistor(sweep.s, sweep.z0_ohm, rs, nominal)
        loss_db, s11 = two_port.loss_db(s[:, 1, 0]), s[:, 0, 0]
        load = nominal
    else:
        load = rs + float(sweep.z0_ohm[1])
        loss_db = resistor_corrected_loss_db(sweep.column(1, 0), rs, float(sweep.z0_ohm[1]))
        if sweep.measured[0, 0]:
            s11 = sweep.s[:, 0, 0]
        flags += _off_nominal(load, nominal)
    mismatch_db = None if s11 is None else two_port.mismatch_db(s11)
    return LossCurve(
        freq_hz=sweep.freq_hz,
        loss_db=loss_db,
        mismatch_db=mismatch_db,
        dissipative_db=None if mismatch_db is None else loss_db - mismatch_db,
        uncertainty_db=_uncertainty_db(sweep, rs, nominal, loss_db, request.reflection_error),
        assumption=f"The device is linear and its series resistor is {rs:g} ohm without reactance; the loss "
        f"is that between {sweep.z0_ohm[0]:g} and {load:g} ohm.",
        flags=flags,
    )


def resistor_corrected_loss_db(s21: Complexes, rs_ohm: float, z0_ohm: float) -> Floats:
    """(F,) loss of the device from S21 measured through Rs into Z0."""
    return two_port.loss_db(s21) - 10.0 * log10((rs_ohm + z0_ohm) / z0_ohm)


def remove_series_resistor(s: Complexes, z0_ohm: Floats, rs_ohm: float, load_ohm: float) -> Complexes:
    """Compute S of the device between Z0 and `load_ohm`, (F, 2, 2): the resistor taken off again.

    In ABCD, because `skrf.network.de_embed` needs S of -Rs, which does not exist at Rs = 2 Z0 (3:1).
    """
    first, second = float(z0_ohm[0]), float(z0_ohm[1])
    measured = two_port.s_to_abcd(s, (first, second))
    device = measured @ two_port.build_series_abcd(-rs_ohm, len(s))
    return two_port.abcd_to_s(device, (first, load_ohm))


def _off_nominal(load_ohm: float, nominal_ohm: float) -> tuple[Flag, ...]:
    if abs(load_ohm / nominal_ohm - 1) <= OFF_NOMINAL:
        return ()
    return (build_flag("series_off_nominal", load_ohm=f"{load_ohm:g}", nominal_ohm=f"{nominal_ohm:g}"),)


def _uncertainty_db(sweep: Sweep, rs_ohm: float, nominal_ohm: float, loss_db: Floats, error: float) -> Floats:
    """Residual match errors at either port against what they see; what was not measured is bounded.

    |S11| of a passive device is at most sqrt(1 - transmitted share). Port 2 sees Rs and the device's nominal
    output impedance unless S22 was measured.
    """
    z0 = float(sweep.z0_ohm[1])
    s11: Floats = np.abs(sweep.s[:, 0, 0]) if sweep.measured[0, 0] else largest_passive_reflection(loss_db)
    nominal_s22 = (rs_ohm + nominal_ohm - z0) / (rs_ohm + nominal_ohm + z0)
    s22 = np.abs(sweep.s[:, 1, 1]) if sweep.measured[1, 1] else abs(nominal_s22)
    return residual_error.transmission_change_db(s11, s22, error)


def largest_passive_reflection(loss_db: Floats) -> Floats:
    """(F,) the largest |S11| or |S22| that a passive device of this loss can have: sqrt(1 - 10^(-loss/10)).

    A loss that noise makes slightly negative leaves no room for reflection: 0.
    """
    return np.sqrt(np.maximum(1.0 - 10.0 ** (-loss_db / 10.0), 0.0))
