"""The four verdicts, by the chance of a new build; the bounds are those of the trade's page."""

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.verdict import decision_rule

NAN = float("nan")
# (chance, persons, verdict with a prior, verdict without one)
CASES = [
    (0.95, 3, "typically_meets", "typically_meets"),
    (0.81, 3, "typically_meets", "typically_meets"),
    (0.80, 3, "typically_meets", "mixed"),
    (0.7999, 40, "mixed", "mixed"),
    (0.5, 3, "mixed", "mixed"),
    (0.2001, 3, "mixed", "mixed"),
    (0.19, 3, "typically_falls_short", "typically_falls_short"),
    (0.0, 3, "typically_falls_short", "typically_falls_short"),
    (0.95, 2, "not_enough_devices", "not_enough_devices"),
    (NAN, 9, "not_enough_devices", "not_enough_devices"),
]


@pytest.mark.parametrize(("chance", "persons", "with_prior", "without"), CASES)
def test_each_case_of_the_rule(chance, persons, with_prior, without):
    for prior, verdict in ((True, with_prior), (False, without)):
        code = decision_rule.compute_verdict_codes(chance, persons, with_prior=prior)
        assert decision_rule.VERDICTS[int(code)] == verdict


def test_all_cases_at_once_give_the_same():
    chances, persons, verdicts, _ = zip(*CASES, strict=True)
    codes = decision_rule.compute_verdict_codes(chances, persons)
    assert [decision_rule.VERDICTS[code] for code in codes] == list(verdicts)


def test_a_higher_threshold_of_contributors_is_kept():
    codes = decision_rule.compute_verdict_codes(np.array([0.9, 0.9]), [4, 5], min_contributors=5)
    assert [decision_rule.VERDICTS[code] for code in codes] == ["not_enough_devices", "typically_meets"]


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
