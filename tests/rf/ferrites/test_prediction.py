"""The draws behind every chance: spread evenly, normal, and without a side that they prefer."""

import numpy as np
import pytest
from scipy.stats import norm

from measurements.rf.ferrites import prediction


@pytest.mark.parametrize("draws", [64, 256])
def test_every_column_has_one_draw_in_each_equal_share_and_its_mirror(draws):
    normal = prediction._normal(draws)
    assert normal.shape == (draws, prediction.COEFFICIENT_COUNT + prediction.SHIFT_COUNT)
    half = draws // 2
    shares = np.sort(np.floor(half * norm.cdf(normal[:half])), axis=0)
    assert (shares == np.arange(half)[:, None]).all()
    assert (normal[half:] == -normal[:half]).all()


@pytest.mark.parametrize("draws", [64, 256])
def test_draws_are_normal_and_nearly_uncorrelated(draws):
    normal = prediction._normal(draws)
    rng = np.random.default_rng(1)
    # half as far from the identity as as many draws at random are
    assert _off(normal) < _off(rng.standard_normal(normal.shape)) / 2
    # an even mix of all columns: E|z| = sqrt(2 / pi), and 80 % lie within 1.2816 (the normal distribution)
    mixed = normal.sum(axis=1) / np.sqrt(normal.shape[1])
    assert np.abs(mixed).mean() == pytest.approx(np.sqrt(2 / np.pi), rel=0.12)
    assert (np.abs(mixed) < 1.2816).mean() == pytest.approx(0.8, abs=0.1)


def _off(normal):
    return np.abs(normal.T @ normal / len(normal) - np.eye(normal.shape[1])).max()
