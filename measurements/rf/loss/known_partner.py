"""`known_partner`: one device back to back with a trusted one whose loss is stored.

The pair's S21 is S21a S21b/(1 - G1 G2), so the device's loss is the pair's loss less the partner's, give or
take the mismatch bound 20 log10(1 +/- |G1 G2|) of the joint (closed form).
"""

from __future__ import annotations

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.instruments import port_errors
from measurements.rf.instruments.error_budget import ErrorTerm, add_in_squares, propagate
from measurements.rf.instruments.port2_match import ForwardReading, correct_forward
from measurements.rf.loss.direct import list_corrected_terms
from measurements.rf.loss.series_resistor import CORRECTED_SENTENCE, largest_passive_reflection
from measurements.rf.networks import two_port
from measurements.rf.request import LossCurve, Request
from measurements.rf.sweeps.sweep import Floats, Sweep

ASSUMPTION = (
    "The partner still has the loss that was stored for it; the "
    "uncertainty is the partner's own and the mismatch bound of the joint."
)


def compute_loss(request: Request) -> LossCurve:
    """Return loss of the device from S21 of `sweep` (the pair) and `request.partner`.

    On one path the match of port 2 is taken out where the jig's through gave it and S11 has its phase.
    """
    pair = request.sweep("sweep")
    partner = _partner(request)
    partner_db = interpolate_db(partner.freq_hz, partner.loss_db, pair.freq_hz)
    if np.isnan(partner_db).all():
        raise BenchnightError(
            "insertion_loss.partner_span",
            "The partner's stored loss and this sweep have no frequency in common. Sweep the same range.",
            field="partner",
        )
    seen = correct_forward(request.sweeps.get("jig_through"), pair, request.analyser)
    s21 = pair.column(1, 0) if seen is None else seen.s21
    loss_db = two_port.loss_db(s21) - partner_db
    return LossCurve(
        freq_hz=pair.freq_hz,
        loss_db=loss_db,
        uncertainty_db=_propagate(request, pair, partner, loss_db, seen),
        assumption=ASSUMPTION if seen is None else ASSUMPTION + CORRECTED_SENTENCE,
    )


def interpolate_db(freq_hz: Floats, values_db: Floats, at_hz: Floats) -> Floats:
    """Return `values_db` (F,) at `at_hz` (G,), linear between neighbours, NaN outside and beside NaN."""
    return np.interp(at_hz, freq_hz, values_db, left=np.nan, right=np.nan)


def _partner(request: Request) -> LossCurve:
    if request.partner is None:
        raise BenchnightError(
            "insertion_loss.partner_missing",
            "This method needs a partner whose insertion loss is stored. Name the partner's test, or choose "
            "back_to_back.",
            field="partner",
        )
    return request.partner


def _propagate(
    request: Request, pair: Sweep, partner: LossCurve, loss_db: Floats, seen: ForwardReading | None
) -> Floats:
    """Return U (95 %): the ports, how the two devices meet at the joint, and the partner's own uncertainty.

    The device's reflection at the joint is estimated from S11 of the pair and the partner's, whose phases are
    unrelated: the root of the sum of their squares, and never more than a passive device can have.
    """
    partner_db = interpolate_db(partner.freq_hz, partner.loss_db, pair.freq_hz)
    g2 = _partner_reflection(partner, pair.freq_hz)
    g1 = largest_passive_reflection(loss_db)
    bound = largest_passive_reflection(loss_db + partner_db)
    s11 = np.abs(pair.s[:, 0, 0] if seen is None else seen.s11) if pair.measured[0, 0] else bound
    if pair.measured[0, 0]:
        g1 = np.minimum(g1, np.hypot(s11, g2))
    if seen is None:
        through = np.asarray(pair.s[:, 1, 0])
        s22 = np.abs(pair.s[:, 1, 1]) if pair.measured[1, 1] else np.minimum(bound, np.hypot(g1, g2))
        match = request.analyser.get_port2_match(pair)
        ports = port_errors.list_forward_terms(request.analyser, match, s11 + 0j, through, s22 + 0j)
        terms = port_errors.keep_readings(ports, ("s21",))
    else:
        through, terms = seen.s21, list_corrected_terms(request.analyser, seen)
    terms = [*terms, ErrorTerm("joint", "ring", {"s21": g1 * g2 * through})]
    own_db = propagate(lambda moved: two_port.loss_db(moved["s21"]), {"s21": through}, terms)
    if partner.uncertainty_db is None:
        return own_db
    return add_in_squares(own_db, interpolate_db(partner.freq_hz, partner.uncertainty_db, pair.freq_hz))


def _partner_reflection(partner: LossCurve, freq_hz: Floats) -> Floats:
    """Return (F,) |G| of the partner at the joint: as large as at its other side where the mismatch is
    stored.

    A device of little dissipation reflects alike at both ends; in any case no passive device of its loss
    reflects more than `largest_reflection`.
    """
    largest = largest_passive_reflection(interpolate_db(partner.freq_hz, partner.loss_db, freq_hz))
    if partner.mismatch_db is None:
        return largest
    return np.minimum(
        largest, largest_passive_reflection(interpolate_db(partner.freq_hz, partner.mismatch_db, freq_hz))
    )
