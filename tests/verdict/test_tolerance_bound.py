"""The one-sided tolerance factor against tables, and the bound's promise by simulation."""

import numpy as np
import pytest
from scipy.stats import norm

from measurements.verdict import tolerance_bound


# Exact one-sided k. (10; .95/.95, .90/.95, .99/.95) are the usual table values, from memory; the rest
# computed from the noncentral t independently of this project.
@pytest.mark.parametrize(
    ("n", "p", "confidence", "k"),
    [
        (5, 0.90, 0.95, 3.407),
        (5, 0.95, 0.95, 4.203),
        (10, 0.90, 0.90, 2.066),
        (10, 0.90, 0.95, 2.355),
        (10, 0.95, 0.95, 2.911),
        (10, 0.99, 0.95, 3.981),
        (20, 0.90, 0.90, 1.765),
        (20, 0.90, 0.95, 1.926),
        (20, 0.95, 0.95, 2.396),
        (20, 0.99, 0.95, 3.295),
        (30, 0.90, 0.95, 1.777),
        (30, 0.95, 0.95, 2.220),
        (30, 0.99, 0.95, 3.064),
    ],
)
def test_factor_equals_the_tables(n, p, confidence, k):
    assert tolerance_bound.compute_tolerance_factor(n, p, confidence) == pytest.approx(k, abs=0.5e-3)


def test_nist_worked_example():
    """NIST/SEMATECH e-Handbook 7.2.6.3: n 43, p 0.90, gamma 0.99; exact factor 1.8740."""
    assert tolerance_bound.compute_tolerance_factor(43, 0.90, 0.99) == pytest.approx(1.8740, abs=1e-4)
    # Natrella's approximation from the same page, 1.8752, is near and above.
    assert tolerance_bound.compute_tolerance_factor(43, 0.90, 0.99) == pytest.approx(1.8752, abs=2e-3)


def test_bound_covers_as_often_as_it_promises():
    """Independent of any formula: of 4,000 samples of 8, 90 % have 90 % of the population above the bound."""
    rng = np.random.default_rng(20)
    samples = rng.normal(25.0, 3.0, size=(4000, 8))
    bounds = samples.mean(axis=1) - tolerance_bound.compute_tolerance_factor(8) * samples.std(axis=1, ddof=1)
    covered = norm.sf(bounds, 25.0, 3.0) >= 0.90
    assert covered.mean() == pytest.approx(0.90, abs=3 * np.sqrt(0.09 / 4000))


def test_one_value_has_no_factor():
    with pytest.raises(ValueError, match="two values"):
        tolerance_bound.compute_tolerance_factor(1)
