"""The four verdicts, as a table."""

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.verdict import decision_rule
from measurements.verdict.design_verdicts import judge_counts

# (devices, passing, contributors, verdict): the rule of the trade, worked by hand from its bounds
# 3/3 lower 0.646; 4/5 0.5135; 3/4 0.4325; 0/3 upper 0.354; 1/5 0.4865.
CASES = [
    (0, 0, 0, "not_enough_devices"),
    (2, 2, 2, "not_enough_devices"),
    (3, 3, 3, "typically_meets"),
    (3, 3, 2, "not_enough_devices"),
    (9, 9, 2, "not_enough_devices"),
    (4, 3, 4, "mixed"),
    (5, 4, 5, "typically_meets"),
    (100, 79, 60, "mixed"),
    (100, 80, 60, "typically_meets"),
    (3, 0, 3, "typically_falls_short"),
    (5, 1, 5, "typically_falls_short"),
    (3, 1, 3, "mixed"),
    (10, 5, 10, "mixed"),
    (200, 90, 90, "typically_falls_short"),
]


@pytest.mark.parametrize(("n", "k", "contributors", "verdict"), CASES)
def test_each_case_of_the_rule(n, k, contributors, verdict):
    assert decision_rule.VERDICTS[int(decision_rule.compute_verdict_codes(n, k, contributors))] == verdict


def test_all_cases_at_once_give_the_same():
    n, k, contributors, verdicts = zip(*CASES, strict=True)
    shares = judge_counts(n, k, contributors)
    assert [decision_rule.VERDICTS[code] for code in shares.code] == list(verdicts)
    hidden = np.array([v == "not_enough_devices" for v in verdicts])
    for figure in (shares.share, shares.share_low, shares.share_high):
        assert np.array_equal(np.isnan(figure), hidden)


def test_a_higher_threshold_of_contributors_is_kept():
    assert (
        decision_rule.VERDICTS[int(decision_rule.compute_verdict_codes(9, 9, 4, min_contributors=5))]
        == "not_enough_devices"
    )
    assert (
        decision_rule.VERDICTS[int(decision_rule.compute_verdict_codes(9, 9, 5, min_contributors=5))]
        == "typically_meets"
    )


@pytest.mark.parametrize("wrong_db", [9.99, 40.01, float("nan"), float("inf"), -20.0])
def test_benchmark_outside_its_range_is_refused_with_advice(wrong_db):
    with pytest.raises(BenchnightError) as caught:
        decision_rule.check_benchmark(wrong_db)
    assert caught.value.code == "benchmark.out_of_range"
    assert caught.value.field == "benchmark_db"
    assert "10 and 40 dB" in caught.value.detail


@pytest.mark.parametrize("right_db", [10, 20, 25.5, 40.0])
def test_any_benchmark_in_range_is_taken(right_db):
    assert decision_rule.check_benchmark(right_db) == right_db


def test_more_passes_than_devices_are_refused():
    with pytest.raises(ValueError, match="Passes"):
        decision_rule.compute_verdict_codes([3, 3], [3, 4], [3, 3])
