"""Evidence is re-sampled to one grid and never reaches beyond its sweep."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.rf.evidence_grid import GRID_HZ, resample_to_grid
from tests.rf import benches


def test_the_grid():
    assert GRID_HZ.size == 97 and GRID_HZ[0] == 1e6 and GRID_HZ[-1] == pytest.approx(54e6)
    assert np.diff(np.log(GRID_HZ)) == pytest.approx(np.log(54) / 96)
    assert not GRID_HZ.flags.writeable


def test_agrees_with_numpy_inside_and_is_nan_outside():
    freq = benches.linear_hz(201, 2e6, 30e6)
    z = benches.choke_z(freq)
    got = resample_to_grid(freq, z)
    inside = (freq[0] <= GRID_HZ) & (freq[-1] >= GRID_HZ)
    assert got[inside].real == pytest.approx(np.interp(GRID_HZ[inside], freq, z.real))
    assert got[inside].imag == pytest.approx(np.interp(GRID_HZ[inside], freq, z.imag))
    assert np.isnan(got[~inside]).all()


def test_an_undefined_point_is_not_bridged():
    freq = GRID_HZ.copy()
    z = np.arange(97) + 1j
    z[40] = complex(np.nan, np.nan)
    got = resample_to_grid(freq, z)
    assert np.isnan(got[40]) and got[39] == z[39] and got[41] == z[41]


def test_many_sweeps_at_once_and_a_single_point():
    freq = benches.linear_hz(11)
    z = np.stack([benches.choke_z(freq), 2 * benches.choke_z(freq)])
    assert resample_to_grid(freq, z)[1] == pytest.approx(2 * resample_to_grid(freq, z[0]), nan_ok=True)
    lonely = resample_to_grid(np.array([1e6]), np.array([5 + 5j]))
    assert lonely[0] == 5 + 5j and np.isnan(lonely[1:]).all()
