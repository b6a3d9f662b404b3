"""How far single devices of a design lie from its median: in permeability, in capacitance, and beyond
both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from . import winding_terms
from .design_evidence import NOISE, DesignEvidence
from .learned import Spreads
from .sweep import Complexes, Floats
from .winding_terms import Terms

PRIOR_DEVICES = 4.0  # how many devices the prior spreads count as
FARTHEST = 3.0  # usual standard deviations: what is beyond is a fault or a poor jig, no spread of builds
MOST_MISFIT = 0.15


def of(used: Sequence[DesignEvidence], at: Sequence[Terms], now: Spreads) -> Spreads:
    """`now` with the spreads of devices brought up to date; the prior where no curves are published.

    at: each design's own terms. A median of n devices takes one of them away: n - 1 count.
    """
    squares, left, count = np.zeros(2), 0.0, 0.0
    for seen, terms in zip(used, at, strict=True):
        if seen.z_ohm is None or len(seen.curves_ohm) < 2:
            continue
        own, over = _shifts(seen.curves_ohm, seen.z_ohm, seen.freq_hz, terms, now)
        free = (len(seen.curves_ohm) - 1) / len(seen.curves_ohm)
        squares += free * own.sum(axis=0)
        left += free * float(over.sum())
        count += free * len(own)
    prior = Spreads()
    device = (PRIOR_DEVICES * np.square(prior.device) + squares) / (PRIOR_DEVICES + count)
    misfit = (PRIOR_DEVICES * prior.misfit_device**2 + left) / (PRIOR_DEVICES + count)
    return replace(
        now,
        device=(float(np.sqrt(device[0])), float(np.sqrt(device[1]))),
        misfit_device=float(np.sqrt(misfit)),
    )


def _shifts(
    curves_ohm: Complexes, median_ohm: Complexes, freq_hz: Floats, at: Terms, now: Spreads
) -> tuple[Floats, Floats]:
    """Expected squares of every device's shifts (n, 2) and of what is left over (n,).

    A curve that does not reach a frequency is NaN there and is judged where it reaches.
    """
    own, over = [], []
    for curve in curves_ohm:
        known = np.isfinite(curve)
        if np.count_nonzero(known) < 4:
            continue
        apart = np.log(curve[known] / median_ohm[known])
        by = np.stack([at.by_mu[known], at.by_stray[known]], axis=1)
        near = now.misfit_device**2 * winding_terms.nearness(freq_hz[known])
        near += NOISE**2 * np.eye(near.shape[0])
        weighted = np.linalg.solve(near, by)
        precision = np.diag(1 / np.square(now.device)) + (np.conj(by).T @ weighted).real
        covariance = np.linalg.inv(precision)
        shift = covariance @ (np.conj(weighted).T @ apart).real
        over.append(min(float(np.mean(np.abs(apart - by @ shift) ** 2)) / 2, MOST_MISFIT**2))
        farthest = FARTHEST * np.array(Spreads().device)
        own.append(np.minimum(shift**2 + np.diag(covariance), farthest**2))
    return np.array(own).reshape(-1, 2), np.array(over)
