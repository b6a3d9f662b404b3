"""`pairs`: three or more devices, measured in pairs with their high sides joined.

Each pair gives one sum, loss of x plus loss of y; least squares over the labels gives every device. Three
pairs of three devices are exact, a = (AB+AC-BC)/2 with u(a) = sqrt(3)/2 u(pair) (closed form); more
pairs leave a residual that shows how well they agree. Where S11 of a pair was measured its sum comes from the
mirror (twice one device of the pair), which takes the interaction of their mismatches out.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.flags import Flag, build_flag
from measurements.rf.instruments.error_budget import ErrorTerm, add_in_squares, combine
from measurements.rf.instruments.smoothing import SMOOTHING_SENTENCE
from measurements.rf.loss.back_to_back import (
    can_mirror,
    flag_crossed_joint,
    mirror_pair,
    propagate_pair_sum,
)
from measurements.rf.networks import two_port
from measurements.rf.request import LossCurve, Request, get_matching_sweeps
from measurements.rf.sweeps.sweep import Floats, Sweep

_ROLE = re.compile(r"pair_([a-z])([a-z])")
DISAGREE_DB = 0.2  # house default: rms misfit beyond which the set does not belong together

Pair = tuple[str, str]


def compute_loss(request: Request) -> LossCurve:
    """Return losses of all devices in the roles `pair_ab`, `pair_ac`, ...; the outer curve is the first's."""
    roles = sorted(role for role in request.sweeps if role.startswith("pair_"))
    pairs = [parse_pair_role(role) for role in roles]
    weights = build_pair_solver(pairs)
    sweeps = get_matching_sweeps(request, roles)
    sums = [_pair_sum(sweep, role, request) for sweep, role in zip(sweeps, roles, strict=True)]
    sums_db = np.array([found[0] for found in sums])
    losses_db = weights @ sums_db
    misfit_db = sums_db - _incidence(pairs) @ losses_db
    stated_db = np.array([_combine_sums(row, [found[1] for found in sums]) for row in weights])
    uncertainty_db = add_in_squares(stated_db, _scatter_db(weights, misfit_db))
    residual_db = _residual_db(weights, misfit_db)
    assumption = _assumption(sweeps, len(pairs), len(losses_db), request)
    devices = {
        label: LossCurve(sweeps[0].freq_hz, losses_db[i], assumption, uncertainty_db=uncertainty_db[i])
        for i, label in enumerate(list_pair_labels(pairs))
    }
    flags = tuple(one for found in sums for one in found[2]) + _agreement(residual_db)
    first = next(iter(devices.values()))
    return replace(first, devices=devices, residual_db=residual_db, flags=flags)


def parse_pair_role(role: str) -> Pair:
    """Return ("a", "b") of `pair_ab`; BenchnightError `pairs.role` for anything else."""
    match = _ROLE.fullmatch(role)
    if match is None or match[1] == match[2]:
        raise BenchnightError(
            "pairs.role",
            f"{role} does not name a pair. Write pair_ with the letters of two different devices: pair_ab, "
            f"pair_ac.",
            field=role,
        )
    return match[1], match[2]


def list_pair_labels(pairs: list[Pair]) -> list[str]:
    """Return all devices of these pairs, in alphabetical order."""
    return sorted({label for pair in pairs for label in pair})


def build_pair_solver(pairs: list[Pair]) -> Floats:
    """Return (devices, pairs): the matrix that turns pair sums into each device's loss, by least squares.

    Raises BenchnightError `pairs.underdetermined` where the pairs leave a device open: every device must hang
    on a closed ring of an odd number of pairs, such as ab, ac, bc.
    """
    incidence = _incidence(pairs)
    if len(pairs) == 0 or np.linalg.matrix_rank(incidence) < incidence.shape[1]:
        raise BenchnightError(
            "pairs.underdetermined",
            "These pairs do not determine every device. Three devices need all three pairs: pair_ab, "
            "pair_ac and pair_bc; each further device needs one more pair with one of them.",
            field=f"pair_{pairs[0][0]}{pairs[0][1]}" if pairs else "pair_ab",
        )
    return np.asarray(np.linalg.pinv(incidence), dtype=np.float64)


def _incidence(pairs: list[Pair]) -> Floats:
    devices = list_pair_labels(pairs)
    return np.array([[float(label in pair) for label in devices] for pair in pairs])


def solve_pairs(sums_db: Mapping[Pair, Floats]) -> dict[str, Floats]:
    """Return each device's loss from the sums of pairs, for sums that are at hand already."""
    pairs = list(sums_db)
    losses_db = build_pair_solver(pairs) @ np.array([sums_db[pair] for pair in pairs])
    return dict(zip(list_pair_labels(pairs), losses_db, strict=True))


@dataclass(frozen=True)
class SumErrors:
    """What moves one pair's sum: changes (K, F) for these terms, or U (95 %) of it where that is all."""

    uncertainty_db: Floats
    changes: Floats | None = None
    terms: Sequence[ErrorTerm] = ()


_Part = tuple[Floats, list[ErrorTerm]]


def _combine_sums(weights: Floats, sums: Sequence[SumErrors]) -> Floats:
    """Return U (95 %) of a weighted sum of pair sums, (F,).

    What the calibration left over moves all sweeps alike, and mostly cancels; drift, connection and noise
    belong to each sweep.
    """
    parts: list[Floats] = []
    common: dict[int, _Part] = {}  # by the number of changes: sweeps that measured the same columns
    for weight, one in zip(weights, sums, strict=True):
        if one.changes is None:
            parts.append(weight * one.uncertainty_db)
            continue
        (changes, terms), own = _split_changes(weight * one.changes, one.terms)
        parts.append(combine(*own))
        before = common[len(changes)][0] if len(changes) in common else 0.0
        common[len(changes)] = (before + changes, terms)
    return add_in_squares(*parts, *(combine(*part) for part in common.values()))


def _split_changes(changes: Floats, terms: Sequence[ErrorTerm]) -> tuple[_Part, _Part]:
    """Return the changes of the terms that all sweeps share, and of those that each has for itself."""
    rows = np.concatenate([np.full(len(term.directions), term.is_repeated) for term in terms])
    return (
        (changes[~rows], [term for term in terms if not term.is_repeated]),
        (changes[rows], [term for term in terms if term.is_repeated]),
    )


def _pair_sum(sweep: Sweep, role: str, request: Request) -> tuple[Floats, SumErrors, tuple[Flag, ...]]:
    """Return (F,) loss of both devices together, what moves it, and flags."""
    if can_mirror(sweep):
        found = mirror_pair(request, sweep, role)
        errors = SumErrors(2 * found.uncertainty_db, 2 * found.changes, found.terms)
        return 2 * found.loss_db, errors, flag_crossed_joint(found, role)
    sum_db = two_port.loss_db(sweep.column(1, 0, field=role))
    return sum_db, SumErrors(propagate_pair_sum(request, sweep)), ()


def _scatter_db(weights: Floats, misfit_db: Floats) -> Floats:
    """Return (devices, F): twice the standard error of each device that the pairs' disagreement shows; 0 if
    none is left.

    Ordinary least squares: the variance of a pair is the sum of squared misfits over pairs - devices.
    """
    devices, pairs = weights.shape
    if pairs == devices:
        return np.zeros((devices, misfit_db.shape[1]))
    variance = np.sum(misfit_db**2, axis=0) / (pairs - devices)
    scatter_db: Floats = 2.0 * np.sqrt(np.sum(weights**2, axis=1)[:, None] * variance)
    return scatter_db


def _residual_db(weights: Floats, misfit_db: Floats) -> float | None:
    """Return Rms misfit over pairs and frequencies; None where nothing is left over to disagree."""
    if weights.shape[0] == weights.shape[1]:
        return None
    defined = misfit_db[np.isfinite(misfit_db)]
    return float(np.sqrt(np.mean(defined**2))) if defined.size else None


def _agreement(residual_db: float | None) -> tuple[Flag, ...]:
    if residual_db is None or residual_db <= DISAGREE_DB:
        return ()
    return (build_flag("pairs_disagree", residual_db=f"{residual_db:.2f}"),)


def _assumption(sweeps: list[Sweep], pairs: int, devices: int, request: Request) -> str:
    mirrors = sum(can_mirror(sweep) for sweep in sweeps)
    solved = f"{devices} devices from {pairs} pairs by least squares."
    if mirrors == 0:
        held = any(sweep.measured[0, 0] for sweep in sweeps)
        lacking = "S11 was saved without phase" if held else "S11 was not saved"
        return f"{solved} {lacking}, so the joints are taken to be matched."
    alike = f"The two devices of a pair are taken to be alike at {float(request.ratio):g}:1"
    return (
        f"{alike}, with leakage split alike between the sides. {solved} {mirrors} pair sums come from the "
        f"mirror. {SMOOTHING_SENTENCE}"
    )
