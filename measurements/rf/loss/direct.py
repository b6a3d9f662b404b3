"""`direct`: loss is -20 log10 |S21|, as it stands.

For a 1:1 device that is its loss. For any other ratio the reading contains the mismatch of the ratio
itself (ideal 4:1 1.938 dB, 9:1 4.437 dB): the floor is shown beside it and no verdict is passed.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from math import log10

import numpy as np

from measurements.rf.analyser import Analyser
from measurements.rf.flags import Flag, build_flag
from measurements.rf.impedance_ratio import format_ratio
from measurements.rf.instruments import port_errors
from measurements.rf.instruments.error_budget import ErrorTerm, Values, propagate
from measurements.rf.instruments.port2_match import ForwardReading, correct_forward
from measurements.rf.loss.series_resistor import (
    CORRECTED_SENTENCE,
    add_split,
    largest_passive_reflection,
)
from measurements.rf.networks import two_port
from measurements.rf.request import LossCurve, Request
from measurements.rf.sweeps.sweep import Floats, Sweep


def compute_loss(request: Request) -> LossCurve:
    """Return loss from S21 of `sweep`; the split where S11 was measured. Needs no phase.

    On one path the match of port 2 is taken out where the jig's through gave it and S11 has its phase.
    """
    sweep = request.sweep("sweep")
    seen = correct_forward(request.sweeps.get("jig_through"), sweep, request.analyser)
    loss_db = two_port.loss_db(sweep.column(1, 0) if seen is None else seen.s21)
    uncertainty_db = _propagate(request, sweep, loss_db, seen)
    floor_db = ratio_floor_db(request.ratio)
    matched = request.ratio == 1
    references = " and ".join(f"{z0:g}" for z0 in sweep.z0_ohm[:2])
    corrected = "" if seen is None else CORRECTED_SENTENCE
    return _split(
        request,
        sweep,
        seen,
        LossCurve(
            freq_hz=sweep.freq_hz,
            loss_db=loss_db,
            uncertainty_db=uncertainty_db,
            assumption=f"The loss is that between {references} ohm, the references of the sweep.{corrected}",
            judged=matched,
            floor_db=None if matched else floor_db,
            flags=() if matched else _floor_flag(request.ratio, floor_db),
        ),
    )


def _split(request: Request, sweep: Sweep, seen: ForwardReading | None, curve: LossCurve) -> LossCurve:
    """Return the curve with mismatch and heat, where S11 was measured."""
    if not sweep.measured[0, 0]:
        return curve
    s11 = sweep.s[:, 0, 0] if seen is None else seen.s11
    mismatch_db = two_port.mismatch_db(s11)
    left = None if seen is None else request.analyser.reflection_residual
    spread_db = np.zeros(curve.loss_db.shape) if curve.uncertainty_db is None else curve.uncertainty_db
    return replace(
        curve,
        mismatch_db=mismatch_db,
        dissipative_db=curve.loss_db - mismatch_db,
        dissipative_uncertainty_db=add_split(request, sweep, s11, spread_db, left),
    )


def ratio_floor_db(ratio: Fraction) -> float:
    """Return the loss that an ideal r:1 transformer reads between equal ports, -10 log10(4r/(1+r)^2), dB."""
    r = float(ratio)
    return -10.0 * log10(4 * r / (1 + r) ** 2) + 0.0


def _floor_flag(ratio: Fraction, floor_db: float) -> tuple[Flag, ...]:
    return (build_flag("ratio_floor", ratio=format_ratio(ratio), floor_db=f"{floor_db:.3f}"),)


def _propagate(request: Request, sweep: Sweep, loss_db: Floats, seen: ForwardReading | None) -> Floats:
    """Return U (95 %): what both ports make of S21, their matches against what the device reflects."""
    if seen is not None:
        terms = list_corrected_terms(request.analyser, seen)
        return propagate(_get_loss_db, {"s21": seen.s21}, terms)
    s11, s22 = find_reflection_sizes(sweep, loss_db)
    through = np.asarray(sweep.s[:, 1, 0])
    terms = port_errors.list_forward_terms(
        request.analyser,
        request.analyser.get_port2_match(sweep),
        s11 + 0j,
        through,
        s22 + 0j,
        is_normalised="jig_through" in request.sweeps,
    )
    return propagate(_get_loss_db, {"s21": through}, port_errors.keep_readings(terms, ("s21",)))


def list_corrected_terms(analyser: Analyser, seen: ForwardReading) -> list[ErrorTerm]:
    """Return terms of S21 after `correct_forward`: the match of port 2 as far as the through leaves it, and
    what is not known of S22.
    """
    residual = analyser.reflection_residual
    terms = port_errors.list_forward_terms(
        analyser, residual, seen.s11, seen.s21, seen.s22, is_normalised=True
    )
    unknown = ErrorTerm("far reflection", "disc", {"s21": seen.g2 * seen.far_slack * seen.s21})
    return [*port_errors.keep_readings(terms, ("s21",)), unknown]


def _get_loss_db(values: Values) -> Floats:
    return two_port.loss_db(values["s21"])


def find_reflection_sizes(sweep: Sweep, loss_db: Floats) -> tuple[Floats, Floats]:
    """Return |S11| and |S22| (F,) of a 1:1 device, as measured, or as large as they can well be.

    A small lumped loss reflects alike at both ends (closed form, first order), so S22 is taken as S11 and
    half of what the device dissipates; without S11 the bound of a passive device counts.
    """
    bound = largest_passive_reflection(loss_db)
    s11 = np.abs(sweep.s[:, 0, 0]) if sweep.measured[0, 0] else bound
    if sweep.measured[1, 1]:
        return s11, np.abs(sweep.s[:, 1, 1])
    if not sweep.measured[0, 0]:
        return s11, bound
    heat = np.maximum(1.0 - s11**2 - np.abs(sweep.s[:, 1, 0]) ** 2, 0.0)
    return s11, np.minimum(np.maximum(bound, s11), s11 + heat / 2.0)
