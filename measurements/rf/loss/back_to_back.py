"""`back_to_back`: two like devices with their high sides joined, one sweep through both.

Half of the pair's loss (`halved_db`) is what is usually read, and it is biased where the devices mismatch.
With S11 the mirror gives one device's own loss; a `far_load` sweep of one of the two closes it with
nothing assumed but likeness.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from measurements.rf.flags import Flag, build_flag
from measurements.rf.instruments import residual_error
from measurements.rf.instruments.smoothing import SMOOTHING_SENTENCE, Smoother
from measurements.rf.instruments.sweep_checks import flag_impossible_loss
from measurements.rf.loss import one_port
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
    """One device's ends from the pair's S11 (mean of S11 and S22 if both were measured) and S21."""
    return EndReflections(s11 + s21, s11 - s21)


def is_crossed(freq_hz: Floats, s21: Complexes) -> bool:
    """True where the joint turns the polarity over (its two wires crossed): S21 of the pair starts near -1.

    Judged over the lower half (in octaves) of the sweep, where a device's delay is small. Crossed wires
    exchange open and short; S21 of the pair is then to be taken negative before `ends`.
    """
    usable = np.isfinite(s21)
    low = usable & (freq_hz <= np.sqrt(max(freq_hz[0], 1.0) * freq_hz[-1]))
    return bool(np.sum(s21.real[low if low.any() else usable]) < 0)


def estimate_load_alike(s11: Complexes, s21: Complexes) -> Complexes:
    """One device's reflection in its nominal load if both its ends are alike: S11/(1+S21) of the pair."""
    return two_port.divide_or_nan(s11, 1 + s21)


def estimate_load_series_first(far_open: Complexes, far_short: Complexes) -> Complexes:
    """The same if all series impedance is at the near end and all shunt admittance at the far end.

    D = 1 after the ratio: with zo, zs in units of Z0, z = (zo + zs (zo-zs))/(1 + zo - zs), written
    in reflections and cleared of fractions so that zo may be infinite and zs zero.
    """
    o, s = far_open, far_short
    top = (1 + o) * (1 - s) ** 2 + 2 * (1 + s) * (o - s)
    bottom = (1 - s) * ((1 - o) * (1 - s) + 2 * (o - s))
    return two_port.divide_or_nan(top - bottom, top + bottom)


def estimate_load_shunt_first(far_open: Complexes, far_short: Complexes) -> Complexes:
    """The same if all shunt admittance is at the near end: the dual of `load_if_series_first`."""
    return -estimate_load_series_first(-far_short, -far_open)


HALVED_ASSUMPTION = (
    "Half of the pair's loss: the two devices are taken to be alike and matched. S11 of the pair was not "
    "measured, so how their mismatches interact is not known; in a poor pair this reading is wrong by 0.3 "
    "to 0.8 dB."
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
    """One device of a pair, (F,) each: reflection in its nominal load, loss, and how far that may be off."""

    s11: Complexes
    loss_db: Floats
    uncertainty_db: Floats
    crossed: bool


def compute_loss(request: Request) -> LossCurve:
    """Loss of one device of a like pair; the mean of both where they differ a little.

    Needs S21 of `sweep`; S11 of it for the mirror; `far_load` (S11) is optional.
    """
    pair = request.sweep("sweep")
    halved_db = two_port.loss_db(pair.column(1, 0)) / 2
    if not can_mirror(pair):
        return LossCurve(
            pair.freq_hz,
            halved_db,
            HALVED_ASSUMPTION,
            halved_db=halved_db,
            flags=(build_flag("halved_only"),),
        )
    far_load, closing, flags = _prepare_far_load(request)
    found = mirror_pair(pair, "sweep", request.reflection_error, far_load)
    mismatch_db = two_port.mismatch_db(found.s11)
    return LossCurve(
        pair.freq_hz,
        found.loss_db,
        f"{closing} {SMOOTHING_SENTENCE}",
        mismatch_db=mismatch_db,
        dissipative_db=found.loss_db - mismatch_db,
        uncertainty_db=found.uncertainty_db,
        halved_db=halved_db,
        flags=flags
        + flag_crossed_joint(found, "sweep")
        + flag_impossible_loss(found.loss_db, found.uncertainty_db, "sweep"),
    )


def can_mirror(pair: Sweep) -> bool:
    """Whether S11 of the pair was measured, with phase."""
    return bool(pair.measured[0, 0]) and not pair.magnitude_only


def flag_crossed_joint(found: MirroredDevice, role: str) -> tuple[Flag, ...]:
    """A note where the joint turns the polarity over."""
    return (build_flag("crossed_joint", role=role),) if found.crossed else ()


@dataclass(frozen=True)
class FarLoad:
    """The third equation, measured: (F,) reflection of one device in `load_ohm` on its far side."""

    gamma: Complexes
    load_ohm: float
    nominal_ohm: float


def _prepare_far_load(request: Request) -> tuple[FarLoad | None, str, tuple[Flag, ...]]:
    """The far_load sweep if there is one, the sentence on what is assumed, and flags."""
    if "far_load" not in request.sweeps:
        return None, ALIKE_ASSUMPTION.format(ratio=f"{float(request.ratio):g}"), ()
    _, sweep = get_matching_sweeps(request, ("sweep", "far_load"))
    load, flags = get_load_ohm(request)
    gamma = get_complex_column(sweep, 0, 0, "far_load")
    return (
        FarLoad(gamma, load, get_nominal_load_ohm(request)),
        CLOSED_ASSUMPTION.format(load=f"{load:g}"),
        flags,
    )


def mirror_pair(pair: Sweep, role: str, error: float, far_load: FarLoad | None = None) -> MirroredDevice:
    """The mirror on one pair's sweep, with its uncertainty.

    error: residual reflection error, linear. S11 of the pair is averaged with S22 where both were
    measured; half of what they disagree about the loss adds to the uncertainty.
    """
    smooth = Smoother(pair.freq_hz)
    s21 = smooth(get_reciprocal_column(pair, role))
    sides = [smooth(get_complex_column(pair, i, i, role)) for i in (0, 1) if pair.measured[i, i]]
    s11 = np.mean(sides, axis=0)
    crossed = is_crossed(pair.freq_hz, s21)
    s21 = -s21 if crossed else s21
    device_of: Callable[..., Complexes] = _reconstruct_alike
    inputs: tuple[Complexes, ...] = (s11, s21)
    if far_load is not None:
        device_of = _build_closing(far_load, float(pair.z0_ohm[0]))
        inputs = (s11, s21, smooth(far_load.gamma))

    def loss_of(*given: Complexes) -> Floats:
        return two_port.loss_db(device_of(*given)[:, 1, 0])

    uncertainty_db = residual_error.largest_change_db(loss_of, inputs, error)
    if len(sides) == 2:
        one, other = (loss_of(side, *inputs[1:]) for side in sides)
        uncertainty_db = uncertainty_db + np.abs(one - other) / 2
    if far_load is None:
        uncertainty_db = uncertainty_db + _uneven_split_db(s11, s21, loss_of(s11, s21))
    return MirroredDevice(device_of(*inputs)[:, 0, 0], loss_of(*inputs), uncertainty_db, crossed)


def _reconstruct_alike(s11: Complexes, s21: Complexes) -> Complexes:
    return one_port.reconstruct_two_port(*compute_ends(s11, s21), estimate_load_alike(s11, s21))


def _build_closing(far_load: FarLoad, z0_ohm: float) -> Callable[..., Complexes]:
    def device_of(s11: Complexes, s21: Complexes, gamma: Complexes) -> Complexes:
        return one_port.refer_to_nominal_load(
            *compute_ends(s11, s21),
            gamma,
            z0_ohm=z0_ohm,
            load_ohm=far_load.load_ohm,
            nominal_ohm=far_load.nominal_ohm,
        )

    return device_of


def _uneven_split_db(s11: Complexes, s21: Complexes, alike_db: Floats) -> Floats:
    """How far the loss moves if leakage and capacitance sit at opposite ends of each device instead."""
    far_open, far_short = compute_ends(s11, s21)
    lopsided = (
        estimate_load_series_first(far_open, far_short),
        estimate_load_shunt_first(far_open, far_short),
    )
    moved_db = [
        two_port.loss_db(one_port.reconstruct_two_port(far_open, far_short, load)[:, 1, 0])
        for load in lopsided
    ]
    return np.maximum(np.abs(moved_db[0] - alike_db), np.abs(moved_db[1] - alike_db))
