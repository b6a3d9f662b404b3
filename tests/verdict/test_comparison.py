"""Where an own device stands."""

import numpy as np
import pytest
from scipy.stats import percentileofscore

from measurements.verdict.comparison import compare_with_design


def test_between_others():
    got = compare_with_design(25.0, [20.0, 22.0, 24.0, 26.0])
    assert (got.devices, got.percentile, got.median_db, got.from_median_db) == (4, 75.0, 23.0, 2.0)


@pytest.mark.parametrize("own_db", [19.0, 20.0, 22.0, 23.5, 30.0, 31.0])
def test_mid_rank_is_scipys_mean_rank(own_db):
    values = [20.0, 22.0, 22.0, 22.0, 24.0, 30.0]
    # scipy's strict and weak percentiles: their mean is the mid-rank
    expected = (percentileofscore(values, own_db, "strict") + percentileofscore(values, own_db, "weak")) / 2
    assert compare_with_design(own_db, values).percentile == pytest.approx(expected)


def test_in_the_middle_of_equals():
    assert compare_with_design(22.0, [22.0] * 7).percentile == 50.0


def test_devices_off_the_band_are_left_out_and_nothing_gives_nothing():
    assert compare_with_design(22.0, [np.nan, 21.0, np.nan]).devices == 1
    assert compare_with_design(22.0, [np.nan]) is None
    assert compare_with_design(22.0, []) is None
    assert compare_with_design(float("nan"), [22.0]) is None
