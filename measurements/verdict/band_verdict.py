"""The verdict of one design on one band, or on several bands asked together.

Start here: `judge_design` and `judge_design_jointly` judge one design. The chance that a verdict rests on is
in `chance.py`, the rule in `decision_rule.py`, the arrays form for lists of designs in `design_verdicts.py`.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from measurements.verdict import decision_rule
from measurements.verdict.contributor_counts import UNKNOWN_PERSON, weigh_votes
from measurements.verdict.decision_rule import VerdictName
from measurements.verdict.design_verdicts import DesignVerdicts, DesignVotes, judge_designs
from measurements.verdict.metric import REJECTION, Metric


@dataclass(frozen=True)
class Verdict:
    """What the evidence supports for one design, against one benchmark.

    devices, contributors: those that vote. Counts are exact, also below the thresholds: they may leave
    only through `disclosure.evidence_view`. chance (that a new build of somebody else passes, 0..1), passing,
    the shares (0..1) and the figures (of each device's worst point in the band, in the unit of the benchmark)
    are None for `not_enough_devices`; tolerance_low also under five devices. tolerance_low: bound on the
    poorer side, so the upper one of a loss or SWR.
    """

    verdict: VerdictName
    devices: int
    contributors: int
    chance: float | None
    passing: int | None
    share: float | None
    share_low: float | None
    share_high: float | None
    median: float | None
    p10: float | None
    p25: float | None
    p75: float | None
    p90: float | None
    tolerance_low: float | None
    benchmark: float


def judge_design(
    worst: ArrayLike,
    benchmark: float,
    contributors: int | Sequence[Hashable],
    min_contributors: int = 3,
    votes_per_contributor: int | None = None,
    *,
    metric: Metric = REJECTION,
    usual_spread: float | None = None,
    one_jig: bool = False,
) -> Verdict:
    """Judge one design on one band.

    worst: (n,) worst-in-band figure of each device; NaN where its sweep does not cover the
    band (such a device does not vote).
    contributors: each device's contributor, any n hashable labels; or just how many contributors the n
    devices have, of whom only those are counted that are certain to be behind a voting device
    (`contributor_counts`, which can use `votes_per_contributor`).
    usual_spread, one_jig: see `design_verdicts`.
    Raises BenchnightError `benchmark.out_of_range`, and ValueError for labels that do not match.
    """
    values = np.atleast_1d(np.asarray(worst, dtype=np.float64))
    if isinstance(contributors, int | np.integer):
        person, people = np.full(values.size, UNKNOWN_PERSON), int(contributors)
    elif len(contributors) == values.size:
        numbers = {who: number for number, who in enumerate(dict.fromkeys(contributors))}
        person, people = np.array([numbers[who] for who in contributors], dtype=np.int64), len(numbers)
    else:
        raise ValueError("One contributor for each device.")
    design = np.zeros(values.size, dtype=np.int64)
    weights = weigh_votes(design, person, ~np.isnan(values), [people], votes_per_contributor)
    votes = DesignVotes(values, design, weights, np.array([one_jig]))
    judged = judge_designs(votes, benchmark, min_contributors, metric=metric, usual_spread=usual_spread)
    return extract_verdict(judged, 0)


def judge_design_jointly(
    worst: ArrayLike,
    benchmark: float,
    contributors: int | Sequence[Hashable],
    min_contributors: int = 3,
    votes_per_contributor: int | None = None,
    *,
    metric: Metric = REJECTION,
    usual_spread: float | None = None,
    one_jig: bool = False,
) -> Verdict:
    """Judge several bands together: a device passes when it passes on every one of them.

    worst: (n, B), NaN where a device does not cover a band; it then has no vote at all. Never a
    product of chances: the same devices pass and fail on neighbouring bands.
    The figures are those of each device's poorest band.
    """
    return judge_design(
        compute_worst_over_bands(worst, metric),
        benchmark,
        contributors,
        min_contributors,
        votes_per_contributor,
        metric=metric,
        usual_spread=usual_spread,
        one_jig=one_jig,
    )


def compute_worst_over_bands(worst: ArrayLike, metric: Metric = REJECTION) -> NDArray[np.float64]:
    """Return (n,) each device's poorest figure over its (n, B) bands; NaN unless it covers all."""
    matrix = np.asarray(worst, dtype=np.float64)
    if matrix.ndim != 2 or matrix.shape[1] == 0:
        raise ValueError("A joint verdict needs a matrix of devices by bands.")
    # both carry NaN through, which is wanted
    poorest: NDArray[np.float64] = matrix.min(axis=1) if metric.higher_is_better else matrix.max(axis=1)
    return poorest


def extract_verdict(verdicts: DesignVerdicts, index: int) -> Verdict:
    """Extract the verdict of design `index` out of many, with None where the arrays hold NaN."""
    code = int(verdicts.code[index])
    return Verdict(
        verdict=decision_rule.VERDICTS[code],
        devices=int(verdicts.devices[index]),
        contributors=int(verdicts.contributors[index]),
        chance=_or_none(verdicts.chance[index]),
        passing=None if code == decision_rule.NOT_ENOUGH else int(verdicts.passing[index]),
        share=_or_none(verdicts.share[index]),
        share_low=_or_none(verdicts.share_low[index]),
        share_high=_or_none(verdicts.share_high[index]),
        median=_or_none(verdicts.median[index]),
        p10=_or_none(verdicts.p10[index]),
        p25=_or_none(verdicts.p25[index]),
        p75=_or_none(verdicts.p75[index]),
        p90=_or_none(verdicts.p90[index]),
        tolerance_low=_or_none(verdicts.tolerance_low[index]),
        benchmark=verdicts.benchmark,
    )


def _or_none(figure: np.float64) -> float | None:
    return None if np.isnan(figure) else float(figure)
