"""Percentile curves: nan-aware, and silent where too few people have a value."""

import numpy as np
import pytest

from measurements.verdict.percentiles import compute_curve_band

NAN = float("nan")


def test_equal_numpy_where_every_curve_reaches():
    rng = np.random.default_rng(3)
    curves = rng.normal(25, 4, size=(9, 20))
    band = compute_curve_band(curves, np.arange(9))
    # reference: numpy's percentile, column by column
    assert np.allclose(band.median, np.percentile(curves, 50, axis=0))
    assert np.allclose(band.p10, np.percentile(curves, 10, axis=0))
    assert np.allclose(band.p90, np.percentile(curves, 90, axis=0))
    assert (band.devices == 9).all()


def test_equal_numpy_where_curves_end_early():
    rng = np.random.default_rng(4)
    curves = rng.normal(25, 4, size=(11, 30))
    curves[rng.random(curves.shape) < 0.3] = NAN
    band = compute_curve_band(curves, np.arange(11))
    # reference: numpy's nan-aware percentile
    expected = np.nanpercentile(curves, (50, 10, 90), axis=0)
    assert np.allclose([band.median, band.p10, band.p90], expected, rtol=1e-14)


def test_a_frequency_with_too_few_people_is_left_out():
    curves = np.array([[20, 20, 20], [22, 22, NAN], [24, 24, NAN], [NAN, 90, 90]], dtype=float)
    band = compute_curve_band(curves, [0, 1, 2, 3])
    assert band.median[0] == 22.0
    assert band.median[1] == 23.0
    assert np.isnan([band.median[2], band.p10[2], band.p90[2]]).all()
    assert band.contributors.tolist() == [3, 4, 2]


def test_people_are_counted_not_curves():
    curves = np.full((6, 4), 25.0)
    assert compute_curve_band(curves, [0, 0, 0, 1, 1, 1]) is None
    assert compute_curve_band(curves, [0, 0, 0, 1, 1, 2]).contributors.tolist() == [3, 3, 3, 3]


def test_nothing_measured_gives_nothing():
    assert compute_curve_band(np.full((5, 3), NAN), range(5)) is None
    assert compute_curve_band(np.empty((0, 3)), []) is None


def test_arguments_are_not_changed_and_shapes_are_checked():
    curves = np.array([[1.0, NAN], [2.0, 3.0], [3.0, 4.0]])
    before = curves.copy()
    compute_curve_band(curves, [0, 1, 2])
    assert np.array_equal(curves, before, equal_nan=True)
    with pytest.raises(ValueError, match="contributor"):
        compute_curve_band(curves, [0, 1])
