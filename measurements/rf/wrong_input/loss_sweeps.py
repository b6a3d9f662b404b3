"""Insertion-loss sweeps of something else: gain, a resistor forgotten, one device for two, other devices."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from measurements.rf.flags import Flag, build_flag
from measurements.rf.instruments.assumed_errors import AssumedErrors
from measurements.rf.instruments.port2_match import correct_two_port
from measurements.rf.loss.device_pairs import build_pair_solver, list_pair_labels, parse_pair_role
from measurements.rf.networks import two_port
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

LEAST_GAIN_DB = 0.1  # house default, beside the uncertainty
LEAST_SHARE = 0.05  # of the sweep
_PAIR_SHARE = 0.5
_STEP_EXCESS = (
    0.06  # honest pairs of unlike builds leave 0.03, at 49:1 and both ports driven 0.07 (simulated)
)
_DISC = np.array(
    [0.0, *(size * turn for size in (0.5, 1.0) for turn in np.exp(2j * np.pi * np.arange(8) / 8))]
)
_UNLIKE_PAIRS = 0.15  # what devices that differ add to the reflections of a symmetric pair


def find_largest_gain_db(loss_db: Floats, bound_db: Floats) -> float | None:
    """Return the largest gain in decibels where a loss (G,) is below zero beyond its bound over 5 % of a
    sweep.
    """
    beyond = -loss_db - np.nan_to_num(bound_db) - LEAST_GAIN_DB  # NaN stays, and compares as False
    if loss_db.size == 0 or (beyond > 0).mean() < LEAST_SHARE:
        return None
    return -float(np.nanmin(loss_db))


def find_ratio_step(sweep: Sweep, errors: AssumedErrors) -> float | None:
    """Return the factor (1 or more) by which the ratios of a pair's devices differ; None where they need not.

    |S11 + S21| and |S11 - S21| of a symmetric passive pair are 1 at most; a step k in its middle makes one of
    them (k - 1 + 2 sqrt(k))/(k + 1) (closed form). The match of port 2 may be any that the analyser
    leaves: only what none of them explains counts.
    """
    excess = min(_measure_excess(sweep, g2) for g2 in errors.port2_match * _DISC)
    if excess <= _STEP_EXCESS + errors.reflection + errors.drift:
        return None
    size = min(abs(float(np.median(sweep.s[:, 0, 0].real))), 0.98)
    return (1 + size) / (1 - size)


def _measure_excess(sweep: Sweep, g2: complex) -> float:
    """Measure by how much |S11 + S21| or |S11 - S21| exceeds 1 (median), with a match of port 2 taken out."""
    s11, s21 = sweep.s[:, 0, 0], sweep.s[:, 1, 0]
    if g2:
        alike = two_port.stack_two_port(s11, s21, s21, s11)
        corrected = correct_two_port(alike, np.full(s11.shape, g2))
        s11, s21 = corrected[:, 0, 0], corrected[:, 1, 0]
    return float(np.nanmedian(np.maximum(np.abs(s11 + s21), np.abs(s11 - s21)))) - 1


def is_not_symmetric(sweep: Sweep, errors: AssumedErrors) -> bool:
    """Say whether a sweep cannot be of a nearly symmetric passive pair.

    |S11 + S21| and |S11 - S21| of a symmetric one are 1 at most; of a 4:1 device alone the second is 1.4.
    """
    s11, s21 = sweep.s[:, 0, 0], sweep.s[:, 1, 0]
    near, through = np.abs(s11), np.abs(s21)
    bound = errors.bound_reflection(near) + errors.bound_transmission(through, near, 1.0) + errors.noise
    bound = bound + errors.port2_match * through**2 + _UNLIKE_PAIRS
    largest = np.maximum(np.abs(s11 + s21), np.abs(s11 - s21))
    return bool((largest > 1 + bound).mean() > _PAIR_SHARE)


def flag_contradicting_pairs(pairs: Mapping[str, Sweep], errors: AssumedErrors) -> tuple[Flag, ...]:
    """Return flag pairs that are not of the same devices. pairs: by role, on one frequency list, S11 and
    S21 each.

    The ends of each device follow from the pairs' as their losses do; no passive device reflects beyond 1.
    """
    roles = sorted(pairs)
    named = [parse_pair_role(role) for role in roles]
    weights = build_pair_solver(named)
    bound = 3 * float(errors.bound_reflection(np.ones(1))[0]) + 2 * errors.port2_match + _UNLIKE_PAIRS
    for sign in (1, -1):
        ends = np.array([_even_or_odd_end(pairs[role], sign) for role in roles])
        solved = 2 * weights @ ends  # a pair's end is the mean of its two devices'
        for label, reflection in zip(list_pair_labels(named), solved, strict=True):
            if (np.abs(reflection) > 1 + bound).mean() > _PAIR_SHARE:
                return (build_flag("pairs_contradict", device=label, others=_list_others(roles, label)),)
    return ()


def _even_or_odd_end(sweep: Sweep, sign: int) -> Complexes:
    s21 = sweep.s[:, 1, 0]
    low = sweep.freq_hz <= np.sqrt(max(float(sweep.freq_hz[0]), 1.0) * sweep.freq_hz[-1])
    crossed = float(np.sum(s21.real[low])) < 0  # as in the mirror: the joint may turn the polarity over
    end: Complexes = sweep.s[:, 0, 0] + sign * (-s21 if crossed else s21)
    return end


def _list_others(roles: Sequence[str], label: str) -> str:
    """Return the pairs without a device: those that claim too much, if that device seems to give out
    power.
    """
    others = [role for role in roles if label not in role.removeprefix("pair_")]
    return " and ".join(others) or "a pair"


def flag_pair_gain(loss_db: Mapping[str, Floats], bound_db: Floats, roles: Sequence[str]) -> tuple[Flag, ...]:
    """Return flag pairs by which a device would give out more than it takes. loss_db: label -> (G,)."""
    for label, values in loss_db.items():
        gain_db = find_largest_gain_db(values, bound_db)
        if gain_db is not None:
            return (build_flag("pairs_contradict", device=label, others=_list_others(roles, label)),)
    return ()
