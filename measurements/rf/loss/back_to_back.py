"""`back_to_back`: two like devices with their high sides joined, one sweep through both.

Half of the pair's loss (`halved_db`) is what is usually read, and it is biased where the devices mismatch.
With S11 the mirror gives one device's own loss; a `far_load` sweep of one of the two closes it with
nothing assumed but likeness.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from measurements.rf.flags import Flag, build_flag
from measurements.rf.instruments import port_errors
from measurements.rf.instruments.error_budget import ErrorTerm, Values, combine, compute_changes, propagate
from measurements.rf.instruments.port2_match import correct_two_port, find_port2_reflection
from measurements.rf.instruments.smoothing import SMOOTHING_SENTENCE, Smoother
from measurements.rf.loss import one_port
from measurements.rf.loss.series_resistor import largest_passive_reflection
from measurements.rf.networks import two_port
from measurements.rf.request import (
    LossCurve,
    Request,
    get_complex_column,
    get_load_ohm,
    get_matching_sweeps,
    get_nominal_load_ohm,
    get_reciprocal_column,
)
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

# The mirror: what two like devices back to back tell about one of them.
#
# A pair of like devices with their high sides joined is symmetric about the joint. By Bartlett's bisection
# theorem S11+S21 of the pair is one device's input reflection with its far side open, and S11-S21 with its
# far side shorted (own derivation). One equation is missing for the whole two-port:
#
# - a `far_load` sweep of one of the devices closes it, and nothing is assumed; or
# - the device is taken to look alike from both ends once the ratio is taken out (leakage and winding
# capacitance split alike): q = n^2 Zo, which in reflections is S22 = S11 with references (Z0, n^2 Z0).
#
# How wrong the second can be is bounded by the two lopsided devices with the same open and short
# reflections: all series impedance at the near end and all shunt admittance at the far end, and the reverse
# (q = n^2 (Zo-Zs) and q = n^2 Zo^2/(Zo-Zs)); the even split lies between them.


class EndReflections(NamedTuple):
    """One device's input reflections, (F,) each, with its far side open and shorted."""

    far_open: Complexes
    far_short: Complexes


def compute_ends(s11: Complexes, s21: Complexes) -> EndReflections:
    """Return one device's ends from the pair's S11 (mean of S11 and S22 if both were measured) and S21."""
    return EndReflections(s11 + s21, s11 - s21)


def is_crossed(freq_hz: Floats, s21: Complexes) -> bool:
    """Return True where the joint turns the polarity over (its two wires crossed): S21 of the pair starts
    near -1.

    Judged over the lower half (in octaves) of the sweep, where a device's delay is small. Crossed wires
    exchange open and short; S21 of the pair is then to be taken negative before `ends`.
    """
    usable = np.isfinite(s21)
    low = usable & (freq_hz <= np.sqrt(max(freq_hz[0], 1.0) * freq_hz[-1]))
    return bool(np.sum(s21.real[low if low.any() else usable]) < 0)


def estimate_load_alike(s11: Complexes, s21: Complexes) -> Complexes:
    """Return one device's reflection in its nominal load if both its ends are alike: S11/(1+S21) of the
    pair.
    """
    return two_port.divide_or_nan(s11, 1 + s21)


def estimate_load_series_first(far_open: Complexes, far_short: Complexes) -> Complexes:
    """Return the same if all series impedance is at the near end and all shunt admittance at the far end.

    D = 1 after the ratio: with zo, zs in units of Z0, z = (zo + zs (zo-zs))/(1 + zo - zs), written
    in reflections and cleared of fractions so that zo may be infinite and zs zero.
    """
    o, s = far_open, far_short
    top = (1 + o) * (1 - s) ** 2 + 2 * (1 + s) * (o - s)
    bottom = (1 - s) * ((1 - o) * (1 - s) + 2 * (o - s))
    return two_port.divide_or_nan(top - bottom, top + bottom)


def estimate_load_shunt_first(far_open: Complexes, far_short: Complexes) -> Complexes:
    """Return the same if all shunt admittance is at the near end: the dual of `load_if_series_first`."""
    return -estimate_load_series_first(-far_short, -far_open)


HALVED_ASSUMPTION = (
    "The two devices are taken to be alike and matched, so half of the pair's loss is shown. {reason} How "
    "their mismatches interact is not known; in a poor pair this reading is wrong by 0.3 to 0.8 dB."
)

ALIKE_ASSUMPTION = (
    "The two devices are taken to be alike, and each to have its leakage and winding capacitance split "
    "alike between its two sides (q = n^2 Zo with n^2 = {ratio}); the uncertainty covers the uneven splits."
)

CLOSED_ASSUMPTION = (
    "The two devices are taken to be alike; a far_load sweep of one ({load} ohm) closed the equations."
)


@dataclass(frozen=True)
class MirroredDevice:
    """One device of a pair, (F,) each: its loss, the part that becomes heat, and what moves the two.

    changes: (K, F) of the loss, and heat_changes of the heat, for `terms` (see error_budget.py).
    """

    loss_db: Floats
    heat_db: Floats
    terms: Sequence[ErrorTerm]
    changes: Floats
    heat_changes: Floats
    crossed: bool

    @property
    def uncertainty_db(self) -> Floats:
        """Return U (95 %) of the loss."""
        return combine(self.changes, self.terms)

    @property
    def heat_uncertainty_db(self) -> Floats:
        """Return U (95 %) of the part that becomes heat."""
        return combine(self.heat_changes, self.terms)


def compute_loss(request: Request) -> LossCurve:
    """Return loss of one device of a like pair; the mean of both where they differ a little.

    Needs S21 of `sweep`; S11 of it for the mirror; `far_load` (S11) is optional.
    """
    pair = request.sweep("sweep")
    halved_db = two_port.loss_db(pair.column(1, 0)) / 2
    if not can_mirror(pair):
        return LossCurve(
            pair.freq_hz,
            halved_db,
            HALVED_ASSUMPTION.format(reason=say_why_no_reflection(pair)),
            uncertainty_db=propagate_pair_sum(request, pair) / 2,
            halved_db=halved_db,
            flags=(build_flag("halved_only", reason=say_why_no_reflection(pair)),),
        )
    far_load, closing, flags = _prepare_far_load(request)
    found = mirror_pair(request, pair, "sweep", far_load)
    return LossCurve(
        pair.freq_hz,
        found.loss_db,
        f"{closing} {SMOOTHING_SENTENCE}",
        mismatch_db=found.loss_db - found.heat_db,
        dissipative_db=found.heat_db,
        uncertainty_db=found.uncertainty_db,
        dissipative_uncertainty_db=found.heat_uncertainty_db,
        halved_db=halved_db,
        flags=flags + flag_crossed_joint(found, "sweep"),
    )


def can_mirror(pair: Sweep) -> bool:
    """Say whether S11 of the pair was measured, with phase."""
    return bool(pair.measured[0, 0]) and not pair.magnitude_only


def say_why_no_reflection(sweep: Sweep) -> str:
    """Explain why S11 of a sweep is of no use; never ask for a column that the file holds."""
    if sweep.measured[0, 0]:
        return "S11 was saved without phase. Save the sweep as Touchstone."
    return "S11 was not saved. Save it together with S21."


def flag_crossed_joint(found: MirroredDevice, role: str) -> tuple[Flag, ...]:
    """Return a note where the joint turns the polarity over."""
    return (build_flag("crossed_joint", role=role),) if found.crossed else ()


def propagate_pair_sum(request: Request, pair: Sweep) -> Floats:
    """Return U (95 %) of the loss of both devices together, read off S21 of the pair alone.

    Each reflects at most as a passive device of half the loss does; how the two meet at the joint is unknown.
    """
    sum_db = two_port.loss_db(pair.column(1, 0))
    half = largest_passive_reflection(sum_db / 2)
    through = np.asarray(pair.s[:, 1, 0])
    match = request.analyser.get_port2_match(pair)
    ports = port_errors.list_forward_terms(request.analyser, match, half + 0j, through, half + 0j)
    terms = [
        *port_errors.keep_readings(ports, ("s21",)),
        ErrorTerm("joint", "disc", {"s21": half**2 * through}),
    ]
    return propagate(lambda moved: two_port.loss_db(moved["s21"]), {"s21": through}, terms)


@dataclass(frozen=True)
class FarLoad:
    """The third equation, measured: (F,) reflection of one device in `load_ohm` on its far side."""

    gamma: Complexes
    load_ohm: float


def _prepare_far_load(request: Request) -> tuple[FarLoad | None, str, tuple[Flag, ...]]:
    """Return the far_load sweep if there is one, the sentence on what is assumed, and flags."""
    if "far_load" not in request.sweeps:
        return None, ALIKE_ASSUMPTION.format(ratio=f"{float(request.ratio):g}"), ()
    _, sweep = get_matching_sweeps(request, ("sweep", "far_load"))
    load, flags = get_load_ohm(request)
    gamma = get_complex_column(sweep, 0, 0, "far_load")
    return FarLoad(gamma, load), CLOSED_ASSUMPTION.format(load=f"{load:g}"), flags


def mirror_pair(request: Request, pair: Sweep, role: str, far_load: FarLoad | None = None) -> MirroredDevice:
    """Return the mirror on one pair's sweep, with its uncertainty.

    S11 of the pair is averaged with S22 where both were measured; half of what they disagree about the loss
    counts as an interval. On one path the match of port 2 is taken out where the jig's through gave it.
    """
    smooth = Smoother(pair.freq_hz)
    s21 = smooth(get_reciprocal_column(pair, role))
    sides = [smooth(get_complex_column(pair, i, i, role)) for i in (0, 1) if pair.measured[i, i]]
    s11 = np.asarray(np.mean(sides, axis=0))
    g2 = find_port2_reflection(request.sweeps.get("jig_through"), pair, request.analyser)
    if g2 is not None:
        corrected = correct_two_port(two_port.stack_two_port(s11, s21, s21, s11), g2)
        sides, s11, s21 = [], corrected[:, 0, 0], corrected[:, 1, 0]
    crossed = is_crossed(pair.freq_hz, s21)
    s21 = -s21 if crossed else s21
    values = {"s11": s11, "s21": s21}
    match = request.analyser.get_port2_match(pair) if g2 is None else request.analyser.reflection_residual
    terms = port_errors.list_forward_terms(request.analyser, match, s11, s21, s11)
    if len(sides) == 2:
        terms = port_errors.average_both_ways(terms)
    if far_load is None:
        nominal_of: NominalOf = _find_nominal_if_alike
        terms += _list_split_terms(values)
    else:
        nominal_of = _find_closed_nominal
        gamma = smooth(far_load.gamma)
        share = np.full(gamma.shape, far_load.load_ohm / get_nominal_load_ohm(request) + 0j)
        values |= {"far_load": gamma, "load_share": share}
        terms = port_errors.share_port1_terms(request.analyser, terms, "far_load", gamma)
        terms += one_port.list_load_terms(request, pair.freq_hz, far_load.load_ohm)
    return _measure_mirrored(nominal_of, values, [*terms, *_list_side_terms(values, sides)], crossed=crossed)


NominalOf = Callable[[Values], Complexes]


def _measure_mirrored(
    nominal_of: NominalOf, values: Values, terms: Sequence[ErrorTerm], *, crossed: bool
) -> MirroredDevice:
    """Return loss and heat of one device of the pair, and how each term moves them."""

    def both_of(moved: Values) -> Floats:
        nominal = nominal_of(moved)
        share = one_port.compute_power_share(*compute_ends(moved["s11"], moved["s21"]), nominal)
        loss_db = two_port.power_loss_db(share) + moved["beside_db"].real
        return np.stack([loss_db, loss_db - two_port.mismatch_db(nominal)])

    values = {**values, "beside_db": np.zeros(values["s11"].shape, complex)}
    loss_db, heat_db = both_of(values)
    changes, heat_changes = compute_changes(both_of, values, terms)
    return MirroredDevice(loss_db, heat_db, terms, changes, heat_changes, crossed)


def _find_nominal_if_alike(values: Values) -> Complexes:
    return estimate_load_alike(values["s11"], values["s21"])


def _find_closed_nominal(values: Values) -> Complexes:
    ends = compute_ends(values["s11"], values["s21"])
    return one_port.find_nominal_reflection(*ends, values["far_load"], values["load_share"])


def _list_side_terms(values: Values, sides: Sequence[Complexes]) -> list[ErrorTerm]:
    """Return half of what S11 and S22 of a pair disagree; none where one side was measured."""
    if len(sides) != 2:
        return []
    return [ErrorTerm("unlike devices", "interval", {"s11": (sides[0] - sides[1]) / 2})]


def _list_split_terms(values: Values) -> list[ErrorTerm]:
    """Bound the change of the loss if leakage and capacitance sit at opposite ends of each device
    instead.
    """
    far_open, far_short = compute_ends(values["s11"], values["s21"])
    alike = one_port.compute_power_share(
        far_open, far_short, estimate_load_alike(values["s11"], values["s21"])
    )
    lopsided = (
        estimate_load_series_first(far_open, far_short),
        estimate_load_shunt_first(far_open, far_short),
    )
    moved_db = [
        np.abs(two_port.power_loss_db(one_port.compute_power_share(far_open, far_short, load) / alike))
        for load in lopsided
    ]
    return [ErrorTerm("uneven split", "interval", {"beside_db": np.maximum(*moved_db) + 0j})]
