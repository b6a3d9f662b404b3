"""Learns mixes and the capacitance law from released evidence: a linear model with random effects.

ln Z of every design is taken near what the model says now; how it moves with the coefficients
(`winding_terms`) makes least squares of it, with priors for what evidence says little of. A design's own
shifts and what the model misses count as noise that neighbouring frequencies share, so that one design,
however finely swept, is one piece of evidence. The spreads follow by expectation and maximisation, each held
by its prior. Method: Gauss-Newton on a linear mixed model; textbook (Laird and Ware 1982, from memory).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from measurements.rf.ferrites import design_evidence, learned_windings, winding_terms
from measurements.rf.ferrites.design_evidence import MEDIAN_NOISE, DesignEvidence
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.learned_windings import BuildSpreads, DesignShifts, LearnedWindings, MixEvidence
from measurements.rf.ferrites.winding_terms import WindingTerms
from measurements.rf.sweeps.sweep import Complexes, Floats

# How far single devices of a design lie from its median: in permeability, in capacitance, and beyond
# both.

PRIOR_DEVICES = 3.0  # how many devices the prior spreads count as

FARTHEST = 3.0  # usual standard deviations: what is beyond is a fault or a poor jig, no spread of builds

MOST_MISFIT = 0.15

HALF_OF_SQUARES = 2 * np.log(2)  # median of |x|^2 over the variance of each part of a complex normal x

SPREAD_OF_MEDIAN = np.pi / 2  # variance of a median over that of a mean of normal values (textbook)


def update_device_spreads(
    used: Sequence[DesignEvidence], at: Sequence[WindingTerms], now: BuildSpreads
) -> BuildSpreads:
    """Return `now` with the spreads of devices brought up to date; the prior where no curves are published.

    at: each design's own terms. A median of n devices takes one of them away: squares about it add up to
    what n - 1 devices have.
    """
    squares, left, count = np.zeros(2), 0.0, 0.0
    for seen, terms in zip(used, at, strict=True):
        if seen.z_ohm is None or len(seen.curves_ohm) < 2:
            continue
        own, over = _shifts(seen.curves_ohm, seen.z_ohm, seen.freq_hz, terms, now)
        squares += own.sum(axis=0)
        left += float(over.sum())
        count += len(own) * (len(seen.curves_ohm) - 1) / len(seen.curves_ohm)
    prior = BuildSpreads()
    device = (PRIOR_DEVICES * np.square(prior.device) + squares) / (PRIOR_DEVICES + count)
    misfit = (PRIOR_DEVICES * prior.misfit_device**2 + left) / (PRIOR_DEVICES + count)
    return replace(
        now,
        device=(float(np.sqrt(device[0])), float(np.sqrt(device[1]))),
        misfit_device=float(np.sqrt(misfit)),
    )


def _shifts(
    curves_ohm: Complexes, median_ohm: Complexes, freq_hz: Floats, at: WindingTerms, now: BuildSpreads
) -> tuple[Floats, Floats]:
    """Return expected squares of every device's shifts (n, 2) and of what is left over (n,).

    A curve that does not reach a frequency is NaN there and is judged where it reaches.
    """
    own, over = [], []
    for curve in curves_ohm:
        known = np.isfinite(curve)
        if np.count_nonzero(known) < 4:
            continue
        apart = np.log(curve[known] / median_ohm[known])
        by = np.stack([at.by_mu[known], at.by_stray[known]], axis=1)
        near = now.misfit_device**2 * winding_terms.frequency_correlation(freq_hz[known])
        near += MEDIAN_NOISE**2 * np.eye(near.shape[0])
        weighted = np.linalg.solve(near, by)
        precision = np.diag(1 / np.square(now.device)) + (np.conj(by).T @ weighted).real
        covariance = np.linalg.inv(precision)
        shift = covariance @ (np.conj(weighted).T @ apart).real
        # of the squares the median, not the mean: near a resonance what is left is the shift's own curvature
        middle = float(np.median(np.abs(apart - by @ shift) ** 2)) / HALF_OF_SQUARES
        over.append(min(middle, MOST_MISFIT**2))
        farthest = FARTHEST * np.array(BuildSpreads().device)
        own.append(np.minimum(shift**2 + np.diag(covariance), farthest**2))
    return np.array(own).reshape(-1, 2), np.array(over)


ROUNDS, OWN_ROUNDS = 10, 3

MOST_DESIGNS = (
    600  # that the coefficients are learned from: of more, every k-th, and all have their own shifts
)

LONGEST_STEP = 0.4  # of any coefficient in one round, so that a far start does not overshoot a resonance

MOST_SURPRISE = 4.0  # times the expected square: a design beyond counts less, so that a fault teaches nothing

PRIOR_DESIGNS = 3.0  # how many designs the prior spreads count as


@dataclass(frozen=True)
class _Piece:
    """One design, linearised: by coefficients (R, C) at `places`, by its own shifts (R, 2), noise (R, R)."""

    places: list[int]
    by_coefficients: Floats
    by_own: Floats
    target: Floats
    noise: Floats


def learn_model(
    tables: Mapping[str, Permeability],
    evidence: Sequence[DesignEvidence],
    start: LearnedWindings | None = None,
) -> LearnedWindings:
    """Learn the coefficients from the evidence of these designs, starting from the tables (or from `start`).

    Designs of a mix without a table are passed over. Rounds: 10, or 4 with a start.
    """
    prior = learned_windings.build_prior_windings(tables)
    known = [each for each in evidence if each.wound.mix in tables]
    if not known:
        return prior
    used = known[:: max(-(-len(known) // MOST_DESIGNS), 1)]
    now = replace(prior, mean=prior.mean if start is None else start.mean.copy())
    spreads = BuildSpreads() if start is None else start.spreads
    own = np.array([_start_model(start, each) for each in used])
    for index in range(ROUNDS if start is None else 4):
        now = replace(now, spreads=spreads)
        pieces = [_piece(now, tables, seen, own[i]) for i, seen in enumerate(used)]
        now = _solve_coefficients(prior, now, pieces, spreads, used)
        own, sure = _own_shifts(now, pieces, spreads, used)
        if index > 0:
            spreads = _spreads(now, tables, used, own, sure)
    now = replace(now, spreads=spreads, heard=_count_mix_evidence(known))
    return replace(now, designs=_designs(now, tables, known))


def _designs(
    now: LearnedWindings, tables: Mapping[str, Permeability], known: Sequence[DesignEvidence]
) -> dict[str, DesignShifts]:
    """Learn each design's own offsets beyond the coefficients, which stay as they are."""
    own: Floats = np.zeros((len(known), 2))
    sure: list[Floats] = []
    for _ in range(OWN_ROUNDS):
        pieces = [_piece(now, tables, seen, own[i]) for i, seen in enumerate(known)]
        own, sure = _own_shifts(now, pieces, now.spreads, known)
    return {seen.key: DesignShifts(seen.wound, seen.devices, own[i], sure[i]) for i, seen in enumerate(known)}


def compute_design_terms(
    now: LearnedWindings, table: Permeability, seen: DesignEvidence, own: Floats
) -> WindingTerms:
    """Return the model's design at its frequencies with its own shifts (2,)."""
    mean, _ = now.of(seen.wound.mix)
    log_mu = (
        winding_terms.table_log_mu(table, seen.freq_hz)
        + learned_windings.log_mu_correction(mean, seen.freq_hz)
        + own[0]
    )
    return winding_terms.compute_winding_terms(
        seen.freq_hz, log_mu, float(learned_windings.log_stray_f(mean, seen.wound)) + own[1], seen.wound
    )


def _start_model(start: LearnedWindings | None, seen: DesignEvidence) -> Floats:
    known = None if start is None else start.designs.get(seen.key)
    return np.zeros(2) if known is None else known.mean


def _piece(
    now: LearnedWindings, tables: Mapping[str, Permeability], seen: DesignEvidence, own: Floats
) -> _Piece:
    at = compute_design_terms(now, tables[seen.wound.mix], seen, own)
    shows = design_evidence.build_observation(seen, at)
    places = now.places(seen.wound.mix)
    by_coefficients = shows(_by_coefficients(at, seen))
    by_own = shows(np.stack([at.by_mu, at.by_stray], axis=1))
    target = design_evidence.compute_residual(seen, at) + by_coefficients @ now.mean[places] + by_own @ own
    return _Piece(
        places,
        by_coefficients,
        by_own,
        target,
        design_evidence.compute_noise_covariance(seen, at, now.spreads),
    )


def _by_coefficients(at: WindingTerms, seen: DesignEvidence) -> Complexes:
    hats = winding_terms.compute_knot_shares(seen.freq_hz)
    real = at.by_mu[:, None] * hats
    law = at.by_stray[:, None] * winding_terms.build_law_row(seen.wound)[None, :]
    return np.concatenate([real, 1j * real, law], axis=1)


def _own_prior(spreads: BuildSpreads, devices: int) -> Floats:
    """Return of a median of so many devices: the design's own, and what is left of the devices'."""
    return np.diag(np.square(spreads.design) + np.square(spreads.device) / max(devices, 1))


def _solve_coefficients(
    prior: LearnedWindings,
    now: LearnedWindings,
    pieces: Sequence[_Piece],
    spreads: BuildSpreads,
    used: Sequence[DesignEvidence],
) -> LearnedWindings:
    precision = np.linalg.inv(prior.covariance)
    right = precision @ prior.mean
    for piece, seen in zip(pieces, used, strict=True):
        total = piece.noise + piece.by_own @ _own_prior(spreads, seen.devices) @ piece.by_own.T
        left = piece.target - piece.by_coefficients @ now.mean[piece.places]
        surprise = float(left @ np.linalg.solve(total, left)) / left.size
        weighted = np.linalg.solve(total, piece.by_coefficients) * min(1.0, MOST_SURPRISE / surprise)
        precision[np.ix_(piece.places, piece.places)] += piece.by_coefficients.T @ weighted
        right[piece.places] += weighted.T @ piece.target
    covariance = np.linalg.inv(precision)
    step = covariance @ right - now.mean
    longest = float(np.abs(step).max())
    share = 1.0 if longest <= LONGEST_STEP else LONGEST_STEP / longest
    return replace(now, mean=now.mean + share * step, covariance=(covariance + covariance.T) / 2)


def _own_shifts(
    now: LearnedWindings, pieces: Sequence[_Piece], spreads: BuildSpreads, used: Sequence[DesignEvidence]
) -> tuple[Floats, list[Floats]]:
    """Return every design's own shifts (D, 2) given the coefficients, and their covariances."""
    shifts, sure = [], []
    for piece, seen in zip(pieces, used, strict=True):
        before = _own_prior(spreads, seen.devices)
        weighted = np.linalg.solve(piece.noise, piece.by_own)
        after = np.linalg.inv(np.linalg.inv(before) + piece.by_own.T @ weighted)
        left = piece.target - piece.by_coefficients @ now.mean[piece.places]
        shifts.append(after @ (weighted.T @ left))
        sure.append((after + after.T) / 2)
    return np.array(shifts), sure


def _spreads(
    now: LearnedWindings,
    tables: Mapping[str, Permeability],
    used: Sequence[DesignEvidence],
    own: Floats,
    sure: Sequence[Floats],
) -> BuildSpreads:
    """Return one step of expectation and maximisation for every spread, each held by its prior."""
    prior = BuildSpreads()
    at = [compute_design_terms(now, tables[seen.wound.mix], seen, own[i]) for i, seen in enumerate(used)]
    of_devices = update_device_spreads(used, at, now.spreads)
    squares = np.array([shift**2 + np.diag(cov) for shift, cov in zip(own, sure, strict=True)])
    share = np.array(
        [SPREAD_OF_MEDIAN * np.square(of_devices.device) / max(seen.devices, 1) for seen in used]
    )
    most = np.square(FARTHEST * np.array(prior.design))
    of_design = np.clip(squares - share, 0.0, most).sum(axis=0)
    design = (PRIOR_DESIGNS * np.square(prior.design) + of_design) / (PRIOR_DESIGNS + len(used))
    # a median shows its devices' misfit too, as far as they have it each for itself
    left = [
        float(np.mean(design_evidence.compute_residual(seen, one) ** 2))
        - SPREAD_OF_MEDIAN * of_devices.misfit_device**2 / max(seen.devices, 1)
        for seen, one in _select_impedances(used, at)
    ]
    left = [min(max(each, 0.0), MOST_MISFIT**2) for each in left]
    misfit = (PRIOR_DESIGNS * prior.misfit_design**2 + sum(left)) / (PRIOR_DESIGNS + len(left))
    return replace(
        of_devices,
        design=(float(np.sqrt(design[0])), float(np.sqrt(design[1]))),
        misfit_design=float(np.sqrt(misfit)),
    )


def _select_impedances(
    used: Sequence[DesignEvidence], at: Sequence[WindingTerms]
) -> list[tuple[DesignEvidence, WindingTerms]]:
    """Return those with an impedance: rejection alone, rounded, says nothing of a misfit of a few percent."""
    return [(seen, one) for seen, one in zip(used, at, strict=True) if seen.z_ohm is not None]


def _count_mix_evidence(used: Sequence[DesignEvidence]) -> dict[str, MixEvidence]:
    by_mix: dict[str, list[DesignEvidence]] = defaultdict(list)
    for seen in used:
        by_mix[seen.wound.mix].append(seen)
    return {
        mix: MixEvidence(
            len(own),
            sum(each.devices for each in own),
            float(min(each.freq_hz[0] for each in own)),
            float(max(each.freq_hz[-1] for each in own)),
        )
        for mix, own in by_mix.items()
    }
