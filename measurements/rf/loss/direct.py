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
from measurements.rf.instruments import port_errors
from measurements.rf.instruments.error_budget import Values, propagate
from measurements.rf.loss.series_resistor import add_split, largest_passive_reflection
from measurements.rf.networks import two_port
from measurements.rf.request import LossCurve, Request
from measurements.rf.sweeps.sweep import Floats, Sweep


def compute_loss(request: Request) -> LossCurve:
    """Return loss from S21 of `sweep`; the split where S11 was measured. Needs no phase."""
    sweep = request.sweep("sweep")
    loss_db = two_port.loss_db(sweep.column(1, 0))
    mismatch_db = two_port.mismatch_db(sweep.s[:, 0, 0]) if sweep.measured[0, 0] else None
    uncertainty_db = _propagate(request, sweep, loss_db)
    floor_db = ratio_floor_db(request.ratio)
    matched = request.ratio == 1
    references = " and ".join(f"{z0:g}" for z0 in sweep.z0_ohm[:2])
    return LossCurve(
        freq_hz=sweep.freq_hz,
        loss_db=loss_db,
        mismatch_db=mismatch_db,
        dissipative_db=None if mismatch_db is None else loss_db - mismatch_db,
        uncertainty_db=uncertainty_db,
        dissipative_uncertainty_db=None
        if mismatch_db is None
        else add_split(request, sweep, sweep.s[:, 0, 0], uncertainty_db),
        assumption=f"The loss is that between {references} ohm, the references of the sweep.",
        judged=matched,
        floor_db=None if matched else floor_db,
        flags=() if matched else _floor_flag(request.ratio, floor_db),
    )


def ratio_floor_db(ratio: Fraction) -> float:
    """Return the loss that an ideal r:1 transformer reads between equal ports, -10 log10(4r/(1+r)^2), dB."""
    r = float(ratio)
    return -10.0 * log10(4 * r / (1 + r) ** 2) + 0.0


def _floor_flag(ratio: Fraction, floor_db: float) -> tuple[Flag, ...]:
    return (build_flag("ratio_floor", ratio=format_ratio(ratio), floor_db=f"{floor_db:.3f}"),)


def _propagate(request: Request, sweep: Sweep, loss_db: Floats) -> Floats:
    """Return U (95 %): what both ports make of S21, their matches against what the device reflects."""
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
