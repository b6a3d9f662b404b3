"""The verdicts of thousands of designs at once, as arrays: what a list of designs is filtered by.

`band_verdict.judge_design` is the same computation for one design. Rows are devices, in any order; each
names its design by an index 0..D-1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measurements.verdict import chance, decision_rule, tolerance_bound, wilson_interval
from measurements.verdict.contributor_counts import VoteWeights
from measurements.verdict.metric import REJECTION, Metric

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class DesignVerdicts:
    """D designs, every array (D,). Figures are NaN where the verdict is `not_enough_devices`.

    code: index into `decision_rule.VERDICTS`. devices, contributors, passing: counts of those that vote,
    exact also where they are too few: they may leave only through `disclosure.evidence_view`.
    chance: that a new build of somebody else passes, 0..1. share, share_low, share_high: of the devices
    tested, 0..1. median, p10, p90, tolerance_low: in the unit of the metric, of each device's worst figure
    in the band; tolerance_low, on the poorer side, is NaN under five devices.
    """

    benchmark: float
    code: NDArray[np.int8]
    devices: IntArray
    contributors: IntArray
    chance: FloatArray
    passing: IntArray
    share: FloatArray
    share_low: FloatArray
    share_high: FloatArray
    median: FloatArray
    p10: FloatArray
    p25: FloatArray
    p75: FloatArray
    p90: FloatArray
    tolerance_low: FloatArray


# median first, then the percentiles that are shown from ten persons on
QUANTILES = (0.5, 0.1, 0.25, 0.75, 0.9)


@dataclass(frozen=True)
class DesignVotes:
    """What is judged of D designs, one row for each device that may vote.

    worst: (N,) worst-in-band figure, NaN where a device has none. design: (N,) index 0..D-1.
    weights: of these rows (`contributor_counts.weigh_votes`); a row of weight 0 does not vote.
    one_jig: (D,) whether all figures of a design were made with one jig.
    Raises ValueError for rows that do not match, and for an infinite figure.
    """

    worst: FloatArray
    design: IntArray
    weights: VoteWeights
    one_jig: NDArray[np.bool_]

    def __post_init__(self) -> None:
        rows = (self.worst.size,)
        if not self.worst.shape == self.design.shape == self.weights.weight.shape == rows:
            raise ValueError("One value, one design and one weight per device.")
        if bool(np.any(np.isinf(self.worst))):
            raise ValueError("An infinite figure is not a measurement.")
        if bool(np.any((self.design < 0) | (self.design >= self.weights.persons.size))):
            raise ValueError("A design index is out of range.")


def judge_designs(
    votes: DesignVotes,
    benchmark: float = decision_rule.DEFAULT_BENCHMARK_DB,
    min_contributors: int = 3,
    *,
    metric: Metric = REJECTION,
    usual_spread: float | None = None,
) -> DesignVerdicts:
    """Judge D designs by the chance that a new build passes.

    usual_spread: of the group's designs, in units of the metric (`usual_spread.py`); None where unknown.
    Raises BenchnightError for a benchmark out of the bounds of its metric.
    """
    benchmark = decision_rule.check_limit(metric, benchmark)
    people = votes.weights.persons
    voting = ~np.isnan(votes.worst)
    values, group = votes.worst[voting], votes.design[voting]
    devices = np.bincount(group, minlength=people.size)
    passing = np.bincount(group[metric.mark_passing(values, benchmark)], minlength=people.size)
    chances = _compute_chances(votes, benchmark, metric, usual_spread)
    code = decision_rule.compute_verdict_codes(
        chances, people, min_contributors, with_prior=usual_spread is not None
    )
    low, high = wilson_interval.compute_wilson_intervals(passing, devices)
    share = np.divide(passing, devices, out=np.full(devices.shape, np.nan), where=devices > 0)
    figures = [chances, share, low, high, *_compute_quantiles(values, group, devices, QUANTILES)]
    figures.append(_compute_tolerance(values, group, devices, metric))
    hidden = code == decision_rule.NOT_ENOUGH
    chances, share, low, high, median, p10, p25, p75, p90, tolerance = (
        np.where(hidden, np.nan, figure) for figure in figures
    )
    return DesignVerdicts(
        benchmark=benchmark,
        code=code,
        devices=devices,
        contributors=people,
        chance=chances,
        passing=passing,
        share=share,
        share_low=low,
        share_high=high,
        median=median,
        p10=p10,
        p25=p25,
        p75=p75,
        p90=p90,
        tolerance_low=tolerance,
    )


def _compute_chances(
    votes: DesignVotes, benchmark: float, metric: Metric, usual_spread: float | None
) -> FloatArray:
    voting = np.flatnonzero(~np.isnan(votes.worst) & (votes.weights.weight > 0))
    order = voting[np.argsort(votes.design[voting], kind="stable")]
    figures = chance.Figures(
        value=metric.convert_to_units(votes.worst[order]),
        design=votes.design[order],
        weight=votes.weights.weight[order],
        persons=votes.weights.persons,
        one_jig=votes.one_jig,
    )
    return chance.compute_chances(figures, float(metric.convert_to_units(benchmark)), usual_spread)


def _compute_quantiles(
    values_db: FloatArray, group: IntArray, devices: IntArray, at: tuple[float, ...]
) -> list[FloatArray]:
    """Return for each quantile (D,) dB, linear between order statistics (numpy's default); NaN for no
    rows.
    """
    ordered = values_db[np.lexsort((values_db, group))]
    starts = np.cumsum(devices) - devices
    filled = devices > 0
    results = []
    for quantile in at:
        result = np.full(devices.shape, np.nan)
        position = (devices[filled] - 1) * quantile
        below = np.floor(position).astype(np.int64)
        above = np.minimum(below + 1, devices[filled] - 1)
        low, high = ordered[starts[filled] + below], ordered[starts[filled] + above]
        result[filled] = low + (position - below) * (high - low)
        results.append(result)
    return results


def _compute_tolerance(
    values_db: FloatArray, group: IntArray, devices: IntArray, metric: Metric
) -> FloatArray:
    """Return (D,) tolerance bound on the poorer side, in the unit of the metric; NaN under five devices."""
    result = np.full(devices.shape, np.nan)
    enough = devices >= tolerance_bound.MIN_DEVICES
    count = np.where(enough, devices, 1)
    mean = np.bincount(group, values_db, devices.size) / count
    # Two passes: squares minus squared mean would lose the small spread of like devices.
    squares = np.bincount(group, (values_db - mean[group]) ** 2, devices.size)
    sizes, which = np.unique(devices[enough], return_inverse=True)
    factors = np.array([tolerance_bound.compute_tolerance_factor(int(size)) for size in sizes])[which]
    spread = np.sqrt(squares[enough] / (devices[enough] - 1))
    towards_poor = -1.0 if metric.higher_is_better else 1.0
    result[enough] = mean[enough] + towards_poor * factors * spread
    return result
