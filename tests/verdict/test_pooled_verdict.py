"""The pooled verdict: equal to the usual one where groups weigh whole, and no bad group carries it."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.verdict.band_verdict import judge_design
from measurements.verdict.metric import REJECTION
from measurements.verdict.pooled_verdict import PooledFigures, compute_weighted_quantiles, judge_pooled


def figures(worst, group, weights, person=None):
    people = person or [f"{g}{n}" for n, g in enumerate(group)]
    return PooledFigures(np.asarray(worst, dtype=float), people, list(group), weights)


@pytest.mark.parametrize("usual", [None, 2.0])
def test_whole_weights_judge_as_one_group_does(usual):
    worst = [22.0, 25.0, 27.0, 24.0, 21.0, 26.0]
    made = judge_pooled([figures(worst, "aabbcc", {"a": 2, "b": 2, "c": 2})], 20.0, REJECTION, usual)[0]
    usual_way = judge_design(worst, 20.0, list("uvwxyz"), usual_spread=usual)
    assert made.chance == pytest.approx(usual_way.chance, abs=1e-9)
    assert (made.verdict, made.median) == (usual_way.verdict, usual_way.median)
    assert (made.groups, made.contributors, made.devices, made.passing) == (3, 6, 6, 6)


def test_a_persons_devices_and_a_groups_persons_share_its_weight():
    weighed = figures([20, 21, 22, 23], "aabc", {"a": 1, "b": 1, "c": 1}, ["x", "x", "y", "z"])
    assert weighed.weigh_devices() == pytest.approx([0.5, 0.5, 1, 1])


def test_half_as_many_persons_by_weight_bring_less_certainty():
    worst = [24.0] * 9
    groups = "aaabbbccc"
    whole = judge_pooled([figures(worst, groups, dict.fromkeys("abc", 3))], 22.0, REJECTION, 2.0)[0]
    less = judge_pooled([figures(worst, groups, dict.fromkeys("abc", 1))], 22.0, REJECTION, 2.0)[0]
    assert less.chance < whole.chance


def test_weighted_quantiles_against_numpy_and_by_hand():
    values = np.array([3.0, 1.0, 2.0, 5.0])
    assert compute_weighted_quantiles(values, np.ones(4), [0.5])[0] == np.median(values)
    # the heavy value takes the middle: by hand, its step goes from 0.25 to 0.75
    assert compute_weighted_quantiles(values[:3], np.array([1.0, 1.0, 2.0]), [0.5])[0] == 2.0


def test_a_bad_group_does_not_carry_the_verdict():
    """One group of twenty reads 15 dB high; four honest groups measure a design that falls short."""
    rng = np.random.default_rng(7)
    wrong = 0
    for _ in range(60):
        honest = rng.normal(16.0, 2.0, 12)
        worst = np.concatenate([rng.normal(31.0, 2.0, 20), honest])
        group = ["a"] * 20 + ["b", "c", "d", "e"] * 3
        capped = {"a": 6.0, "b": 3, "c": 3, "d": 3, "e": 3}
        made = judge_pooled([figures(worst, group, capped)], 20.0, REJECTION, 2.0)[0]
        wrong += made.verdict == "typically_meets"
        whole = judge_pooled([figures(worst, group, {**capped, "a": 20})], 20.0, REJECTION, 2.0)[0]
        assert made.chance < whole.chance
    assert wrong == 0


def test_no_designs_have_no_verdicts():
    assert judge_pooled([], 20.0, REJECTION, 2.0) == []
