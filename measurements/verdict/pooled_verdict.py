"""The verdict of designs whose figures come from several groups, each of which counts for a third at most.

The chance is that of `chance.py`. A group that counts as fewer persons than it has weighs less in the
likelihood, so that it brings no more certainty than it counts for. Median and percentiles are weighted alike.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measurements.verdict import chance, decision_rule
from measurements.verdict.metric import Metric

FloatArray = NDArray[np.float64]
_AT = (0.5, 0.1, 0.25, 0.75, 0.9)


@dataclass(frozen=True)
class PooledFigures:
    """One design on one band. worst: (n,) of each device. person, group: (n,) labels of each.

    weights: group -> how many persons it counts as, at most as many as it has. A person's label tells groups
    apart.
    """

    worst: FloatArray
    person: Sequence[str]
    group: Sequence[str]
    weights: Mapping[str, float]

    def weigh_devices(self) -> FloatArray:
        """Weigh (n,) each device: its group's weight, shared by its persons and then by their devices."""
        persons = dict.fromkeys(self.weights, 0)
        pairs = set(zip(self.group, self.person, strict=True))
        for group, _ in pairs:
            persons[group] += 1
        devices = {who: self.person.count(who) for who in set(self.person)}
        return np.array(
            [
                self.weights[group] / persons[group] / devices[who]
                for group, who in zip(self.group, self.person, strict=True)
            ]
        )


@dataclass(frozen=True)
class PooledVerdict:
    """What the pool supports for one design on one band, exact; `disclosure` rounds what leaves.

    chance is None where there are under three persons. Figures in the unit of the metric.
    """

    verdict: decision_rule.VerdictName
    chance: float | None
    groups: int
    contributors: int
    devices: int
    passing: int
    median: float
    p10: float
    p25: float
    p75: float
    p90: float


def judge_pooled(
    designs: Sequence[PooledFigures], limit: float, metric: Metric, usual_spread: float | None
) -> list[PooledVerdict]:
    """Judge designs on one band against `limit`. usual_spread: of the pool's designs, units of the metric."""
    weighed = [each.weigh_devices() for each in designs]
    # the whole persons that the weights add up to: rounding up would claim somebody who is not there
    persons = [max(0, int(np.floor(own.sum() + 1e-6))) for own in weighed]
    scaled = [own * (count / own.sum()) for own, count in zip(weighed, persons, strict=True)]
    if not designs:
        return []
    figures = chance.Figures(
        value=metric.convert_to_units(np.concatenate([each.worst for each in designs])),
        design=np.repeat(np.arange(len(designs)), [own.size for own in weighed]),
        weight=np.concatenate(scaled),
        persons=np.array(persons, dtype=np.int64),
        one_jig=np.zeros(len(designs), dtype=np.bool_),
    )
    chances = chance.compute_chances(figures, float(metric.convert_to_units(limit)), usual_spread)
    codes = decision_rule.compute_verdict_codes(chances, persons, with_prior=usual_spread is not None)
    return [
        _build(each, own, float(value), int(code), limit, metric)
        for each, own, value, code in zip(designs, weighed, chances, codes, strict=True)
    ]


def _build(
    each: PooledFigures, weight: FloatArray, value: float, code: int, limit: float, metric: Metric
) -> PooledVerdict:
    return PooledVerdict(
        decision_rule.VERDICTS[code],
        None if np.isnan(value) else value,
        len(set(each.group)),
        len(set(each.person)),
        each.worst.size,
        int(metric.mark_passing(each.worst, limit).sum()),
        *(float(found) for found in compute_weighted_quantiles(each.worst, weight, _AT)),
    )


def compute_weighted_quantiles(values: FloatArray, weight: FloatArray, at: Sequence[float]) -> FloatArray:
    """Compute quantiles of weighted values, linear between the middles of their steps.

    With equal weights the median is the usual one. Values in any order, weights above 0.
    """
    order = np.argsort(values, kind="stable")
    ordered, share = values[order], weight[order] / weight.sum()
    found: FloatArray = np.interp(at, np.cumsum(share) - share / 2, ordered)
    return found
