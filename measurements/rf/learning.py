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

from . import design_evidence, device_spread, learned, winding_terms
from .design_evidence import DesignEvidence
from .ferrite import Permeability
from .learned import Heard, Learned, Own, Spreads
from .sweep import Complexes, Floats
from .winding_terms import Terms

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


def learn(
    tables: Mapping[str, Permeability], evidence: Sequence[DesignEvidence], start: Learned | None = None
) -> Learned:
    """What the evidence of these designs teaches, starting from the tables (or from near: `start`).

    Designs of a mix without a table are passed over. Rounds: 10, or 4 with a start.
    """
    prior = learned.untaught(tables)
    known = [each for each in evidence if each.wound.mix in tables]
    if not known:
        return prior
    used = known[:: max(-(-len(known) // MOST_DESIGNS), 1)]
    now = replace(prior, mean=prior.mean if start is None else start.mean.copy())
    spreads = Spreads() if start is None else start.spreads
    own = np.array([_started(start, each) for each in used])
    for index in range(ROUNDS if start is None else 4):
        now = replace(now, spreads=spreads)
        pieces = [_piece(now, tables, seen, own[i]) for i, seen in enumerate(used)]
        now = _solved(prior, now, pieces, spreads, used)
        own, sure = _own_shifts(now, pieces, spreads, used)
        if index > 0:
            spreads = _spreads(now, tables, used, own, sure)
    now = replace(now, spreads=spreads, heard=_heard(known))
    return replace(now, designs=_designs(now, tables, known))


def _designs(
    now: Learned, tables: Mapping[str, Permeability], known: Sequence[DesignEvidence]
) -> dict[str, Own]:
    """What each design's own evidence says beyond the coefficients, which stay as they are."""
    own: Floats = np.zeros((len(known), 2))
    sure: list[Floats] = []
    for _ in range(OWN_ROUNDS):
        pieces = [_piece(now, tables, seen, own[i]) for i, seen in enumerate(known)]
        own, sure = _own_shifts(now, pieces, now.spreads, known)
    return {seen.key: Own(seen.wound, seen.devices, own[i], sure[i]) for i, seen in enumerate(known)}


def terms_of(now: Learned, table: Permeability, seen: DesignEvidence, own: Floats) -> Terms:
    """The model's design at its frequencies with its own shifts (2,)."""
    mean, _ = now.of(seen.wound.mix)
    log_mu = winding_terms.table_log_mu(table, seen.freq_hz) + learned.correction(mean, seen.freq_hz) + own[0]
    return winding_terms.terms(
        seen.freq_hz, log_mu, float(learned.log_stray_f(mean, seen.wound)) + own[1], seen.wound
    )


def _started(start: Learned | None, seen: DesignEvidence) -> Floats:
    known = None if start is None else start.designs.get(seen.key)
    return np.zeros(2) if known is None else known.mean


def _piece(now: Learned, tables: Mapping[str, Permeability], seen: DesignEvidence, own: Floats) -> _Piece:
    at = terms_of(now, tables[seen.wound.mix], seen, own)
    shows = design_evidence.observed(seen, at)
    places = now.places(seen.wound.mix)
    by_coefficients = shows(_by_coefficients(at, seen))
    by_own = shows(np.stack([at.by_mu, at.by_stray], axis=1))
    target = design_evidence.difference(seen, at) + by_coefficients @ now.mean[places] + by_own @ own
    return _Piece(places, by_coefficients, by_own, target, design_evidence.noise(seen, at, now.spreads))


def _by_coefficients(at: Terms, seen: DesignEvidence) -> Complexes:
    hats = winding_terms.hats(seen.freq_hz)
    real = at.by_mu[:, None] * hats
    law = at.by_stray[:, None] * winding_terms.law_row(seen.wound)[None, :]
    return np.concatenate([real, 1j * real, law], axis=1)


def _own_prior(spreads: Spreads, devices: int) -> Floats:
    """Of a median of so many devices: the design's own, and what is left of the devices'."""
    return np.diag(np.square(spreads.design) + np.square(spreads.device) / max(devices, 1))


def _solved(
    prior: Learned,
    now: Learned,
    pieces: Sequence[_Piece],
    spreads: Spreads,
    used: Sequence[DesignEvidence],
) -> Learned:
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
    now: Learned, pieces: Sequence[_Piece], spreads: Spreads, used: Sequence[DesignEvidence]
) -> tuple[Floats, list[Floats]]:
    """Every design's own shifts (D, 2) given the coefficients, and their covariances."""
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
    now: Learned,
    tables: Mapping[str, Permeability],
    used: Sequence[DesignEvidence],
    own: Floats,
    sure: Sequence[Floats],
) -> Spreads:
    """One step of expectation and maximisation for every spread, each held by its prior."""
    prior = Spreads()
    at = [terms_of(now, tables[seen.wound.mix], seen, own[i]) for i, seen in enumerate(used)]
    of_devices = device_spread.of(used, at, now.spreads)
    squares = np.array([shift**2 + np.diag(cov) for shift, cov in zip(own, sure, strict=True)])
    share = np.array([np.square(of_devices.device) / max(seen.devices, 1) for seen in used])
    most = np.square(device_spread.FARTHEST * np.array(prior.design))
    of_design = np.clip(squares - share, 0.0, most).sum(axis=0)
    design = (PRIOR_DESIGNS * np.square(prior.design) + of_design) / (PRIOR_DESIGNS + len(used))
    left = [float(np.mean(design_evidence.difference(seen, one) ** 2)) for seen, one in _whole(used, at)]
    left = [min(each, device_spread.MOST_MISFIT**2) for each in left]
    misfit = (PRIOR_DESIGNS * prior.misfit_design**2 + sum(left)) / (PRIOR_DESIGNS + len(left))
    return replace(
        of_devices,
        design=(float(np.sqrt(design[0])), float(np.sqrt(design[1]))),
        misfit_design=float(np.sqrt(misfit)),
    )


def _whole(used: Sequence[DesignEvidence], at: Sequence[Terms]) -> list[tuple[DesignEvidence, Terms]]:
    """Those with an impedance: rejection alone, rounded, says nothing of a misfit of a few percent."""
    return [(seen, one) for seen, one in zip(used, at, strict=True) if seen.z_ohm is not None]


def _heard(used: Sequence[DesignEvidence]) -> dict[str, Heard]:
    by_mix: dict[str, list[DesignEvidence]] = defaultdict(list)
    for seen in used:
        by_mix[seen.wound.mix].append(seen)
    return {
        mix: Heard(
            len(own),
            sum(each.devices for each in own),
            float(min(each.freq_hz[0] for each in own)),
            float(max(each.freq_hz[-1] for each in own)),
        )
        for mix, own in by_mix.items()
    }
