"""`renormalised`: any ratio from a full two-port, its references changed to (Z0, ratio x Z0).

Exact for a linear two-port, and straight from S to S, so a through or an ideal transformer (which has no
Z matrix) is exact too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.instruments import port_errors
from measurements.rf.instruments.error_budget import Values, propagate
from measurements.rf.instruments.port2_match import correct_two_port, find_port2_reflection
from measurements.rf.loss.series_resistor import CORRECTED_SENTENCE
from measurements.rf.networks import two_port
from measurements.rf.request import LossCurve, Request
from measurements.rf.sweeps.sweep import Floats


def compute_loss(request: Request) -> LossCurve:
    """Return loss between Z0 and ratio x Z0 from all four S-parameters of `sweep`.

    A device turned round on one path: the match of port 2 is taken out where the jig's through gave it.
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
    g2 = find_port2_reflection(request.sweeps.get("jig_through"), sweep, request.analyser)
    measured = sweep.s if g2 is None else correct_two_port(sweep.s, g2)
    far = float(request.ratio) * float(sweep.z0_ohm[0])
    renormalised = Renormalised(far, float(sweep.z0_ohm[1]))
    values = {name: measured[:, i, j] for name, (i, j) in _COLUMNS.items()}
    match = request.analyser.get_port2_match(sweep) if g2 is None else request.analyser.reflection_residual
    one_path = request.analyser.get_paths(sweep) == 1
    terms = port_errors.list_two_port_terms(request.analyser, match, values, is_turned=one_path)
    loss_db, heat_db = renormalised.compute_db(values)
    loss_spread_db, heat_spread_db = propagate(renormalised.compute_db, values, terms)
    return LossCurve(
        freq_hz=sweep.freq_hz,
        loss_db=loss_db,
        mismatch_db=loss_db - heat_db,
        dissipative_db=heat_db,
        uncertainty_db=loss_spread_db,
        dissipative_uncertainty_db=heat_spread_db,
        assumption=f"The device is linear; the loss is that between {sweep.z0_ohm[0]:g} and {far:g} ohm."
        f"{'' if g2 is None else CORRECTED_SENTENCE}",
    )


_COLUMNS = {"s11": (0, 0), "s12": (0, 1), "s21": (1, 0), "s22": (1, 1)}


@dataclass(frozen=True)
class Renormalised:
    """Port 2 of a two-port referred to `far_ohm` in place of `z2_ohm`; port 1 stays as it is.

    With g = (far-z2)/(far+z2): S21' = S21 sqrt(1-g^2)/(1 - g S22), S11' = S11 + g S12 S21/(1 - g S22).
    Source: `two_port.renormalise_s` for one changed port (closed form).
    """

    far_ohm: float
    z2_ohm: float

    @property
    def step(self) -> float:
        """Return reflection g of the new reference against the old one."""
        return (self.far_ohm - self.z2_ohm) / (self.far_ohm + self.z2_ohm)

    def compute_db(self, values: Values) -> Floats:
        """Return loss, and its dissipative part, as (2, ..., F); values: the readings "s11", "s12", "s21",
        "s22".
        """
        through = two_port.divide_or_nan(values["s21"], 1 - self.step * values["s22"])
        loss_db = two_port.loss_db(through * np.sqrt(1 - self.step**2))
        s11 = values["s11"] + self.step * values["s12"] * through
        return np.stack([loss_db, loss_db - two_port.mismatch_db(s11)])
