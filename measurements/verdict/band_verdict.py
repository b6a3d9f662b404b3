"""The verdict of one design on one band, or on several bands asked together.

Start here. The rule is in `decision_rule.py`, the arrays form for lists of designs in `design_verdicts.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from measurements.verdict import decision_rule
from measurements.verdict.contributor_counts import count_certain_contributors
from measurements.verdict.decision_rule import VerdictName
from measurements.verdict.design_verdicts import DesignVerdicts, judge_designs


@dataclass(frozen=True)
class Verdict:
    """What the evidence supports for one design, against one benchmark.

    devices, contributors: those that vote. Counts are exact, also below the thresholds: they may leave
    only through `disclosure.evidence_view`. passing, the shares (0..1) and the figures (dB of
    worst-in-band rejection) are None for `not_enough_devices`; tolerance_low also under five devices.
    """

    verdict: VerdictName
    devices: int
    contributors: int
    passing: int | None
    share: float | None
    share_low: float | None
    share_high: float | None
    median: float | None
    p10: float | None
    p90: float | None
    tolerance_low: float | None
    benchmark_db: float


def judge_design(
    worst_db: ArrayLike,
    benchmark_db: float,
    contributors: int | Sequence[object],
    min_contributors: int = 3,
    votes_per_contributor: int | None = None,
) -> Verdict:
    """Verdict of one design on one band.

    worst_db: (n,) worst-in-band rejection of each device, dB; NaN where its sweep does not cover the
    band (such a device does not vote).
    contributors: each device's contributor, any n hashable labels; or just how many contributors the n
    devices have, of whom only those are counted that are certain to be behind a voting device
    (`contributors.certain`, which can use `votes_per_contributor`).
    Raises BenchnightError `benchmark.out_of_range`, and ValueError for labels that do not match.
    """
    values = np.atleast_1d(np.asarray(worst_db, dtype=np.float64))
    voting = ~np.isnan(values)
    if isinstance(contributors, int | np.integer):
        people = int(
            count_certain_contributors(contributors, values.size, voting.sum(), votes_per_contributor)
        )
    elif len(contributors) == values.size:
        people = len({who for who, votes in zip(contributors, voting, strict=True) if votes})
    else:
        raise ValueError("One contributor for each device.")
    return extract_verdict(
        judge_designs(values, np.zeros(values.size), [people], benchmark_db, min_contributors), 0
    )


def judge_design_jointly(
    worst_db: ArrayLike,
    benchmark_db: float,
    contributors: int | Sequence[object],
    min_contributors: int = 3,
    votes_per_contributor: int | None = None,
) -> Verdict:
    """Verdict on several bands together: a device passes when it passes on every one of them.

    worst_db: (n, B) dB, NaN where a device does not cover a band; it then has no vote at all. Never a
    product of shares: the same devices pass and fail on neighbouring bands.
    The figures are those of each device's poorest band.
    """
    return judge_design(
        compute_worst_over_bands(worst_db),
        benchmark_db,
        contributors,
        min_contributors,
        votes_per_contributor,
    )


def compute_worst_over_bands(worst_db: ArrayLike) -> NDArray[np.float64]:
    """(n,) each device's smallest rejection over its (n, B) bands, dB; NaN unless it covers all."""
    matrix = np.asarray(worst_db, dtype=np.float64)
    if matrix.ndim != 2 or matrix.shape[1] == 0:
        raise ValueError("A joint verdict needs a matrix of devices by bands.")
    smallest: NDArray[np.float64] = matrix.min(axis=1)  # min carries NaN through, which is wanted
    return smallest


def extract_verdict(verdicts: DesignVerdicts, index: int) -> Verdict:
    """The verdict of design `index` out of many, with None where the arrays hold NaN."""
    code = int(verdicts.code[index])
    return Verdict(
        verdict=decision_rule.VERDICTS[code],
        devices=int(verdicts.devices[index]),
        contributors=int(verdicts.contributors[index]),
        passing=None if code == decision_rule.NOT_ENOUGH else int(verdicts.passing[index]),
        share=_or_none(verdicts.share[index]),
        share_low=_or_none(verdicts.share_low[index]),
        share_high=_or_none(verdicts.share_high[index]),
        median=_or_none(verdicts.median[index]),
        p10=_or_none(verdicts.p10[index]),
        p90=_or_none(verdicts.p90[index]),
        tolerance_low=_or_none(verdicts.tolerance_low[index]),
        benchmark_db=verdicts.benchmark_db,
    )


def _or_none(figure: np.float64) -> float | None:
    return None if np.isnan(figure) else float(figure)
