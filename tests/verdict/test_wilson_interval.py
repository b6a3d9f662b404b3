"""Wilson intervals against published digits and scipy."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binomtest

from measurements.verdict import wilson_interval

# Newcombe, Stat. Med. 17 (1998) 857-872, Table I, method 3 (two-sided 95 %: 97.5 % each way);
# digits as quoted by public test files that cite the paper.
NEWCOMBE = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0, 0.1611),
    (1, 29, 0.0061, 0.1718),
]
# Further 95 % Wilson intervals quoted by the same test files.
QUOTED = [
    (29, 29, 0.8830, 1.0),
    (0, 10, 0.0, 0.2775),
    (5, 10, 0.2366, 0.7634),
    (10, 10, 0.7225, 1.0),
    (18, 100, 0.1170, 0.2667),
]


@pytest.mark.parametrize(("k", "n", "low", "high"), NEWCOMBE + QUOTED)
def test_published_95_percent_intervals(k, n, low, high):
    got = wilson_interval.compute_wilson_interval(k, n, confidence=0.975)
    assert got == pytest.approx((low, high), abs=0.5e-4)


# The trade's own examples, one-sided 90 % (computed with scipy independently of this code).
@pytest.mark.parametrize(
    ("k", "n", "side", "bound", "digits"),
    [
        (3, 3, 0, 0.646, 3),
        (4, 5, 0, 0.5135, 4),
        (3, 4, 0, 0.4325, 4),
        (0, 3, 1, 0.354, 3),
        (1, 5, 1, 0.4865, 4),
    ],
)
def test_the_trades_examples(k, n, side, bound, digits):
    assert round(wilson_interval.compute_wilson_interval(k, n)[side], digits) == bound


@given(st.integers(1, 400).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_equals_scipy_at_80_percent_two_sided(pair):
    k, n = pair
    expected = binomtest(k, n).proportion_ci(confidence_level=0.80, method="wilson")  # 90 % each way
    assert wilson_interval.compute_wilson_interval(k, n) == pytest.approx(
        (expected.low, expected.high), abs=1e-12
    )


def test_arrays_agree_with_single_counts_and_do_not_guess_for_no_devices():
    n = np.array([0, 1, 5, 40])
    k = np.array([0, 1, 4, 0])
    low, high = wilson_interval.compute_wilson_intervals(k, n)
    assert np.isnan(low[0]) and np.isnan(high[0])
    for i in range(1, 4):
        assert (low[i], high[i]) == wilson_interval.compute_wilson_interval(int(k[i]), int(n[i]))


def test_all_or_none_bound_exactly_at_the_end():
    low, high = wilson_interval.compute_wilson_intervals(np.array([0, 7]), np.array([7, 7]))
    assert low[0] == 0.0
    assert high[1] == 1.0


@pytest.mark.parametrize(("k", "n"), [(4, 3), (-1, 3)])
def test_impossible_counts_are_refused(k, n):
    with pytest.raises(ValueError, match="Passes"):
        wilson_interval.compute_wilson_interval(k, n)


def test_no_devices_and_silly_confidence_are_refused():
    with pytest.raises(ValueError, match="No devices"):
        wilson_interval.compute_wilson_interval(0, 0)
    with pytest.raises(ValueError, match="confidence"):
        wilson_interval.compute_wilson_interval(1, 2, confidence=0.4)
