"""`back_to_back`: two like devices with their high sides joined, one sweep through both.

Half of the pair's loss (`halved_db`) is what is usually read, and it is biased where the devices mismatch.
With S11 the mirror gives one device's own loss; a `far_load` sweep of one of the two closes it with
nothing assumed but likeness.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from . import mirror, one_port, residual_error, two_port
from .doubtful_loss import impossible
from .flags import Flag, flag
from .loss_curve import LossCurve
from .method_inputs import complex_column, load_ohm, nominal_load_ohm, reciprocal_column, together
from .request import Request
from .smoothing import SENTENCE, Smoother
from .sweep import Complexes, Floats, Sweep

HALVED_ONLY = (
    "Half of the pair's loss: the two devices are taken to be alike and matched. S11 of the pair was not "
    "measured, so how their mismatches interact is not known; in a poor pair this reading is wrong by 0.3 "
    "to 0.8 dB."
)
ALIKE = (
    "The two devices are taken to be alike, and each to have its leakage and winding capacitance split "
    "alike between its two sides (q = n^2 Zo with n^2 = {ratio}); the uncertainty covers the uneven splits."
)
CLOSED = "The two devices are taken to be alike; a far_load sweep of one ({load} ohm) closed the equations."


@dataclass(frozen=True)
class Mirrored:
    """One device of a pair, (F,) each: reflection in its nominal load, loss, and how far that may be off."""

    s11: Complexes
    loss_db: Floats
    uncertainty_db: Floats
    crossed: bool


def curve(request: Request) -> LossCurve:
    """Loss of one device of a like pair; the mean of both where they differ a little.

    Needs S21 of `sweep`; S11 of it for the mirror; `far_load` (S11) is optional.
    """
    pair = request.sweep("sweep")
    halved_db = two_port.loss_db(pair.column(1, 0)) / 2
    if not can_mirror(pair):
        return LossCurve(
            pair.freq_hz,
            halved_db,
            HALVED_ONLY,
            halved_db=halved_db,
            flags=(flag("halved_only"),),
        )
    far_load, closing, flags = _closing(request)
    found = mirrored(pair, "sweep", request.reflection_error, far_load)
    mismatch_db = two_port.mismatch_db(found.s11)
    return LossCurve(
        pair.freq_hz,
        found.loss_db,
        f"{closing} {SENTENCE}",
        mismatch_db=mismatch_db,
        dissipative_db=found.loss_db - mismatch_db,
        uncertainty_db=found.uncertainty_db,
        halved_db=halved_db,
        flags=flags
        + crossed_flags(found, "sweep")
        + impossible(found.loss_db, found.uncertainty_db, "sweep"),
    )


def can_mirror(pair: Sweep) -> bool:
    """Whether S11 of the pair was measured, with phase."""
    return bool(pair.measured[0, 0]) and not pair.magnitude_only


def crossed_flags(found: Mirrored, role: str) -> tuple[Flag, ...]:
    """A note where the joint turns the polarity over."""
    return (flag("crossed_joint", role=role),) if found.crossed else ()


@dataclass(frozen=True)
class FarLoad:
    """The third equation, measured: (F,) reflection of one device in `load_ohm` on its far side."""

    gamma: Complexes
    load_ohm: float
    nominal_ohm: float


def _closing(request: Request) -> tuple[FarLoad | None, str, tuple[Flag, ...]]:
    """The far_load sweep if there is one, the sentence on what is assumed, and flags."""
    if "far_load" not in request.sweeps:
        return None, ALIKE.format(ratio=f"{float(request.ratio):g}"), ()
    _, sweep = together(request, ("sweep", "far_load"))
    load, flags = load_ohm(request)
    gamma = complex_column(sweep, 0, 0, "far_load")
    return FarLoad(gamma, load, nominal_load_ohm(request)), CLOSED.format(load=f"{load:g}"), flags


def mirrored(pair: Sweep, role: str, error: float, far_load: FarLoad | None = None) -> Mirrored:
    """The mirror on one pair's sweep, with its uncertainty.

    error: residual reflection error, linear. S11 of the pair is averaged with S22 where both were
    measured; half of what they disagree about the loss adds to the uncertainty.
    """
    smooth = Smoother(pair.freq_hz)
    s21 = smooth(reciprocal_column(pair, role))
    sides = [smooth(complex_column(pair, i, i, role)) for i in (0, 1) if pair.measured[i, i]]
    s11 = np.mean(sides, axis=0)
    crossed = mirror.is_crossed(pair.freq_hz, s21)
    s21 = -s21 if crossed else s21
    device_of: Callable[..., Complexes] = _alike
    inputs: tuple[Complexes, ...] = (s11, s21)
    if far_load is not None:
        device_of = _closed_by(far_load, float(pair.z0_ohm[0]))
        inputs = (s11, s21, smooth(far_load.gamma))

    def loss_of(*given: Complexes) -> Floats:
        return two_port.loss_db(device_of(*given)[:, 1, 0])

    uncertainty_db = residual_error.largest_change_db(loss_of, inputs, error)
    if len(sides) == 2:
        one, other = (loss_of(side, *inputs[1:]) for side in sides)
        uncertainty_db = uncertainty_db + np.abs(one - other) / 2
    if far_load is None:
        uncertainty_db = uncertainty_db + _uneven_split_db(s11, s21, loss_of(s11, s21))
    return Mirrored(device_of(*inputs)[:, 0, 0], loss_of(*inputs), uncertainty_db, crossed)


def _alike(s11: Complexes, s21: Complexes) -> Complexes:
    return one_port.reconstructed(*mirror.ends(s11, s21), mirror.load_if_alike(s11, s21))


def _closed_by(far_load: FarLoad, z0_ohm: float) -> Callable[..., Complexes]:
    def device_of(s11: Complexes, s21: Complexes, gamma: Complexes) -> Complexes:
        return one_port.into_nominal(
            *mirror.ends(s11, s21),
            gamma,
            z0_ohm=z0_ohm,
            load_ohm=far_load.load_ohm,
            nominal_ohm=far_load.nominal_ohm,
        )

    return device_of


def _uneven_split_db(s11: Complexes, s21: Complexes, alike_db: Floats) -> Floats:
    """How far the loss moves if leakage and capacitance sit at opposite ends of each device instead."""
    far_open, far_short = mirror.ends(s11, s21)
    lopsided = (
        mirror.load_if_series_first(far_open, far_short),
        mirror.load_if_shunt_first(far_open, far_short),
    )
    moved_db = [
        two_port.loss_db(one_port.reconstructed(far_open, far_short, load)[:, 1, 0]) for load in lopsided
    ]
    return np.maximum(np.abs(moved_db[0] - alike_db), np.abs(moved_db[1] - alike_db))
