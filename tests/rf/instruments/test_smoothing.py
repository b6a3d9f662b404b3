"""Smoothing helps where there is noise and leaves everything else alone."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import savgol_filter

from measurements.rf.instruments.smoothing import SPAN_POINTS, Smoother
from tests.rf.transformer_simulation import FREQ_HZ, NOISE, ended, good, poor


def noisy(trace, seed, noise=NOISE):
    rng = np.random.default_rng(seed)
    gauss = rng.standard_normal(trace.shape) + 1j * rng.standard_normal(trace.shape)
    return trace + noise * gauss / np.sqrt(2)


def rms(values):
    return float(np.sqrt(np.mean(np.abs(values) ** 2)))


CURVES = {
    "good": ended(good(4), "open").s[:, 0, 0],
    "poor": ended(poor(49, far=1.0), 2450.0).s[:, 0, 0],
    "resonance of 10 points": 1 / (1 + 1j * 14 * (FREQ_HZ / 10e6 - 10e6 / FREQ_HZ)),
    "resonance of 1 point": 1 / (1 + 1j * 200 * (FREQ_HZ / 10e6 - 10e6 / FREQ_HZ)),
}


@pytest.mark.parametrize("name", CURVES)
def test_a_clean_curve_is_returned_as_it_is(name):
    smooth = Smoother(FREQ_HZ)
    assert np.array_equal(smooth(CURVES[name]), CURVES[name])


@pytest.mark.parametrize("name", CURVES)
def test_noise_is_reduced_and_nothing_distorted(name):
    smooth = Smoother(FREQ_HZ)
    error = np.array([smooth(noisy(CURVES[name], seed)) - CURVES[name] for seed in range(10)])
    assert rms(error) < 0.7 * NOISE  # a full quadratic over nine points leaves 0.505
    assert np.abs(error).max() < 5 * NOISE  # what raw noise reaches over so many points
    assert np.abs(error.mean(axis=0)).max() < 1.5 * NOISE


def test_on_an_even_grid_it_is_savitzky_and_golay():
    # scipy.signal.savgol_filter, on a straight line with noise
    trace = noisy(np.linspace(0, 1, 401).astype(complex), 1)
    expected = savgol_filter(trace.real, SPAN_POINTS, 2) + 1j * savgol_filter(trace.imag, SPAN_POINTS, 2)
    found = Smoother(FREQ_HZ)(trace)
    same = np.isclose(found, expected, atol=1e-12)
    assert same.mean() > 0.98
    assert np.array_equal(found[~same], trace[~same])  # the few that fit badly by chance stay


UNEVEN_GRIDS = [np.geomspace(1e6, 30e6, 401), np.sort(np.random.default_rng(2).uniform(1, 30, 300))]


@pytest.mark.parametrize("grid", UNEVEN_GRIDS)
def test_uneven_grids_do_not_bend_a_curve(grid):
    x = (grid - grid.mean()) / np.ptp(grid)
    curve = 0.3 + 0.5j * x + (0.4 - 0.2j) * x**2
    found = Smoother(grid)(noisy(curve, 3))
    assert rms(found - curve) < 0.65 * NOISE


def test_few_points_and_undefined_ones_are_left_alone():
    short = noisy(np.zeros(24, complex), 1)
    assert Smoother(np.arange(24.0))(short) is short
    gap = noisy(CURVES["good"], 1)
    gap[7] = np.nan
    assert Smoother(FREQ_HZ)(gap) is gap


def test_constant_traces_do_not_divide_by_zero():
    assert np.allclose(Smoother(FREQ_HZ)(np.ones(401, complex)), 1)
