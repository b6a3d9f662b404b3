"""`series_resistor`: any ratio in a 50-ohm system, with a resistor that makes 50 ohm into the nominal load.

Rs = (ratio-1) x 50 ohm lies between the far terminal and the port-2 centre, so the device sees Rs + Z0. The
reading takes Rs for lost; what the device loses is -20 log10 |S21| - 10 log10((Rs+Z0)/Z0), exact for a linear
two-port (own derivation; no published source for the correction is known). S11 is then the device's own
reflection in its load, so it splits the loss as it stands.
"""

from __future__ import annotations

import numpy as np

from measurements.rf.flags import Flag, build_flag
from measurements.rf.impedance_ratio import NOMINAL_OHM
from measurements.rf.instruments import port_errors, resistors
from measurements.rf.instruments.error_budget import ErrorTerm, Values, add_in_squares, propagate
from measurements.rf.instruments.port2_match import compute_resistor_loss_db, find_port2_reflection
from measurements.rf.networks import two_port
from measurements.rf.request import LossCurve, Request, get_nominal_load_ohm, get_series_ohm
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

_DECIBELS = 20.0 / np.log(10.0)  # of a small relative change
CORRECTED_SENTENCE = " The match of port 2 was taken out by S11 of the jig's through."
OFF_NOMINAL = 0.05  # relative; house default for what still counts as the nominal load


def compute_loss(request: Request) -> LossCurve:
    """Return loss between Z0 and Rs + Z0 from S21 of `sweep`, or between Z0 and ratio x 50 from a full
    two-port.

    On one path the match of port 2 is taken out where the jig's through gave it (`port2_match.py`).
    """
    sweep = request.sweep("sweep")
    rs, flags = get_series_ohm(request)
    nominal, z0 = get_nominal_load_ohm(request), float(sweep.z0_ohm[1])
    g2 = find_port2_reflection(request.sweeps.get("jig_through"), sweep, request.analyser)
    s11 = sweep.s[:, 0, 0] if sweep.measured[0, 0] else None
    if g2 is None and sweep.measured.all() and not sweep.magnitude_only:
        s = remove_series_resistor(sweep.s, sweep.z0_ohm, rs, nominal)
        loss_db, s11, load = two_port.loss_db(s[:, 1, 0]), s[:, 0, 0], nominal
    else:
        through = sweep.column(1, 0)
        resistor = np.full(through.shape, rs + 0j)
        loss_db = compute_resistor_loss_db(
            through, np.zeros_like(through) if g2 is None else g2, resistor, z0
        )
        load = rs + z0
        flags += _off_nominal(load, nominal)
    mismatch_db = None if s11 is None else two_port.mismatch_db(s11)
    uncertainty_db = _propagate(request, sweep, rs, g2, loss_db)
    return LossCurve(
        freq_hz=sweep.freq_hz,
        loss_db=loss_db,
        mismatch_db=mismatch_db,
        dissipative_db=None if mismatch_db is None else loss_db - mismatch_db,
        uncertainty_db=uncertainty_db,
        dissipative_uncertainty_db=None if s11 is None else add_split(request, sweep, s11, uncertainty_db),
        assumption=f"The device is linear and its series resistor is {rs:g} ohm without reactance; the loss "
        f"is that between {sweep.z0_ohm[0]:g} and {load:g} ohm.{'' if g2 is None else CORRECTED_SENTENCE}",
        flags=flags,
    )


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


def _propagate(
    request: Request, sweep: Sweep, rs_ohm: float, g2: Complexes | None, loss_db: Floats
) -> Floats:
    """Return U (95 %) of the loss: the ports, the resistor's own value and stray, and a load beside the
    nominal one.

    The match of port 2, unknown or as far as the through leaves it, moves the same formula.
    """
    analyser, z0 = request.analyser, float(sweep.z0_ohm[1])
    through = np.asarray(sweep.s[:, 1, 0])
    nothing = np.zeros(through.shape, complex)
    match = analyser.get_port2_match(sweep) if g2 is None else analyser.reflection_residual
    s11 = np.asarray(
        np.abs(sweep.s[:, 0, 0]) if sweep.measured[0, 0] else largest_passive_reflection(loss_db), complex
    )
    values = {
        "s21": through,
        "g2": nothing if g2 is None else g2,
        "rs": np.full(through.shape, rs_ohm + 0j),
        "beside_db": nothing,
    }
    ports = port_errors.list_forward_terms(
        analyser, 0.0, s11, through, nothing, is_normalised="jig_through" in request.sweeps
    )
    terms = [
        *port_errors.keep_readings(ports, ("s21",)),
        ErrorTerm("load match", "disc", {"g2": np.full(through.shape, match + 0j)}),
        *_list_resistor_terms(request, sweep.freq_hz, rs_ohm, s11, match if g2 is None else np.abs(g2)),
    ]

    def loss_of(moved: Values) -> Floats:
        found = compute_resistor_loss_db(moved["s21"], moved["g2"], moved["rs"], z0)
        return np.asarray(found + moved["beside_db"].real)

    return propagate(loss_of, values, terms)


def _list_resistor_terms(
    request: Request, freq_hz: Floats, rs_ohm: float, s11: Complexes, match: Floats | float
) -> list[ErrorTerm]:
    """Return terms of the series resistor (reading "rs"), and of a load that is not the nominal one
    ("beside_db").

    A load with reflection g against the nominal one moves the loss by up to 8.7 |g| |Gout| and, into the
    load as it is, by the mismatch g^2. The device's output reflects about as much as its input.
    """
    nominal, far_ohm = get_nominal_load_ohm(request), rs_ohm + NOMINAL_OHM
    tolerance = resistors.get_tolerance(request.analyser, request.series_ohm, nominal - NOMINAL_OHM)
    across, along = resistors.compute_stray_changes_ohm(freq_hz, rs_ohm)
    terms = [
        ErrorTerm("series resistor", "interval", {"rs": np.full(freq_hz.shape, tolerance * rs_ohm + 0j)})
    ]
    for source, moved in (("series capacitance", across), ("series inductance", along)):
        gamma = two_port.divide_or_nan(moved, 2 * far_ohm + moved)
        beside = two_port.mismatch_db(gamma) + 0j
        terms.append(ErrorTerm(source, "stray", {"rs": moved.real + 0j, "beside_db": beside}))
        joint_db = _DECIBELS * np.abs(gamma) * np.abs(s11)
        terms.append(ErrorTerm(source, "stray", {"beside_db": joint_db + 0j}))
    off = match * NOMINAL_OHM / far_ohm + tolerance * rs_ohm / (2 * far_ohm)
    terms.append(
        ErrorTerm("load beside nominal", "interval", {"beside_db": _DECIBELS * off * np.abs(s11) + 0j})
    )
    return terms


def add_split(
    request: Request, sweep: Sweep, s11: Complexes, uncertainty_db: Floats, match: float | None = None
) -> Floats:
    """Return U (95 %) of loss - mismatch: what S11 makes of the mismatch, added to U of the loss.

    d(mismatch) = 8.7 |S11| |dS11|/(1-|S11|^2); S11 is wrong by the residual, and by the match of port 2 as
    seen through the device. match: what is left of it; None for the analyser's own.
    """
    size = np.minimum(np.abs(s11), 0.999)
    left = request.analyser.get_port2_match(sweep) if match is None else match
    back = np.abs(sweep.s[:, 1, 0]) ** 2 * left
    error = np.hypot(request.analyser.reflection_residual, back)
    return add_in_squares(uncertainty_db, _DECIBELS * size * error / (1 - size**2))


def largest_passive_reflection(loss_db: Floats) -> Floats:
    """Return (F,) the largest |S11| or |S22| that a passive device of this loss can have: sqrt(1 -
    10^(-loss/10)).

    A loss that noise makes slightly negative leaves no room for reflection: 0.
    """
    return np.sqrt(np.maximum(1.0 - 10.0 ** (-loss_db / 10.0), 0.0))
