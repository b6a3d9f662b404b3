"""The pooled standard deviation of repeats, against one-way analysis of variance and published factors."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from measurements.verdict import repeatability
from measurements.verdict.repeatability import (
    PooledDeviation,
    compute_smallest_real_change,
    group_repeats,
    pool_deviations,
)

DAY = date(2026, 3, 1)


def test_the_same_as_the_within_mean_square_of_an_analysis_of_variance():
    """scipy's F is between over within mean square: between / F is the within one (any textbook)."""
    rng = np.random.default_rng(5)
    groups = [30 + rng.normal(0, 5) + rng.normal(0, 0.4, size=n) for n in (2, 3, 5, 4, 2)]
    every = np.concatenate(groups)
    between = sum(len(group) * (group.mean() - every.mean()) ** 2 for group in groups) / (len(groups) - 1)
    within = between / stats.f_oneway(*groups).statistic
    pooled = pool_deviations(groups)
    assert pooled is not None
    assert pooled.sd**2 == pytest.approx(within, rel=1e-9)
    assert (pooled.dof, pooled.devices) == (11, 5)


def test_two_of_two():
    """By hand: (1, 3) has variance 2 with one degree of freedom, (10, 14) has 8: sqrt((2 + 8) / 2)."""
    assert pool_deviations([[1.0, 3.0], [10.0, 14.0]]) == PooledDeviation(math.sqrt(5.0), 2, 2)


def test_one_of_each_is_no_repeat():
    assert pool_deviations([[1.0], [2.0]]) is None and pool_deviations([]) is None


def test_a_gap_is_not_a_value():
    with pytest.raises(ValueError):
        pool_deviations([[1.0, math.nan]])


@pytest.mark.parametrize(
    ("dof", "t"),
    # two-sided 95 % points of Student's t, as every table prints them
    [(1, 12.706), (5, 2.571), (10, 2.228), (30, 2.042), (120, 1.980)],
)
def test_the_real_change_uses_students_t(dof: int, t: float):
    assert compute_smallest_real_change(PooledDeviation(1.0, dof, 3)) == pytest.approx(
        t * math.sqrt(2), rel=3e-4
    )


def test_it_tends_to_the_repeatability_limit():
    """ISO 5725-6: the repeatability limit r is 2.8 times the repeatability standard deviation."""
    assert compute_smallest_real_change(PooledDeviation(1.0, 100_000, 9)) == pytest.approx(2.8, abs=0.03)


@given(
    st.lists(
        st.lists(st.floats(0, 60), min_size=2, max_size=6),
        min_size=1,
        max_size=6,
    ),
    st.floats(-40, 40),
)
def test_shifting_a_device_changes_nothing(groups: list[list[float]], shift: float):
    moved = [[value + shift for value in groups[0]], *groups[1:]]
    one, other = pool_deviations(groups), pool_deviations(moved)
    assert one is not None and other is not None
    assert one.sd == pytest.approx(other.sd, abs=1e-6) and one.dof == other.dof


class TestWhatIsARepeat:
    def at(self, days: int, value: float, same: object = "d1"):
        return same, date.fromordinal(DAY.toordinal() + days), {"40m": value}

    def test_within_two_days_of_the_first(self):
        rows = [self.at(0, 30.0), self.at(2, 31.0), self.at(3, 25.0)]
        assert group_repeats(rows) == {"40m": [[30.0, 31.0]]}

    def test_a_chain_does_not_grow_without_end(self):
        """Day by day for a week: weather works by then, so a group ends two days after it began."""
        rows = [self.at(day, 30.0 + day) for day in range(7)]
        assert group_repeats(rows) == {"40m": [[30.0, 31.0, 32.0], [33.0, 34.0, 35.0]]}

    def test_other_devices_are_no_repeats(self):
        assert group_repeats([self.at(0, 30.0, "d1"), self.at(0, 31.0, "d2")]) == {}

    def test_order_does_not_matter(self):
        rows = [self.at(1, 31.0), self.at(0, 30.0)]
        assert group_repeats(rows) == {"40m": [[30.0, 31.0]]}

    def test_enough(self):
        assert not PooledDeviation(0.3, repeatability.LEAST_DOF - 1, 2).enough
        assert PooledDeviation(0.3, repeatability.LEAST_DOF, 2).enough
