"""What is certain near the open jig, counted on random devices beside a random stray capacitance.

The readings are made here: a device and the jig's stray in parallel, in series between two ports of 50 ohm.
"""

from __future__ import annotations

import numpy as np
import pytest

from measurements.rf.analysis import analyse
from measurements.rf.kinds.jig_bounds import compute_rejection_bounds
from measurements.rf.request import Request
from tests.rf import benches

FREQ_HZ = np.linspace(1e6, 30e6, 291)


def s21(y):
    """Series-through: S21 = 2 Z0 / (2 Z0 + Z), with y in siemens and Z0 50 ohm (textbook)."""
    return 100 * y / (1 + 100 * y)


@pytest.mark.parametrize("phase_known", [True, False])
def test_the_truth_lies_between_the_bounds(phase_known):
    rng = np.random.default_rng(11)
    for _ in range(2000):
        size, angle = 10 ** rng.uniform(1.5, 5), rng.uniform(-np.pi / 2, np.pi / 2)
        y, stray = (
            1 / (size * np.exp(1j * angle)),
            2j * np.pi * rng.uniform(1e6, 30e6) * rng.uniform(0.05e-12, 5e-12),
        )
        truth = 20 * np.log10(abs(1 + 1 / y / 100))
        read = np.array([[s21(y + stray)]])
        floor = np.array([-20 * np.log10(abs(s21(stray)))])
        least, greatest = compute_rejection_bounds(
            read if phase_known else abs(read), floor, phase_known=phase_known
        )
        assert least[0, 0] <= truth + 1e-9 <= greatest[0, 0] + 2e-9


def test_nothing_that_gets_through_and_everything_that_does():
    least, greatest = compute_rejection_bounds(
        np.array([[0.0, 1.0]]), np.array([60.0, 0.0]), phase_known=True
    )
    assert least[0, 0] > 50 and np.isinf(greatest[0, 0]) and least[0, 1] == 0


def sweep_of(s):
    full = np.zeros((FREQ_HZ.size, 2, 2), complex)
    full[:, 1, 0], full[:, 0, 0] = s, 1 - s
    return benches.one_way(FREQ_HZ, full)


def test_a_reading_of_36_6_db_for_32_2_is_never_called_at_least_36_6():
    """The stray of the clips resonates with an inductive device: the reading is too high."""
    device = 1 / (1 / 2200 + 1 / (2j * np.pi * FREQ_HZ * 70e-6))
    stray = 2j * np.pi * FREQ_HZ * 0.6e-12
    truth = 20 * np.log10(abs(1 + device / 100))
    sweeps = {"sweep": sweep_of(s21(1 / device + stray)), "jig_open": sweep_of(s21(stray))}
    result = analyse(Request("common_mode", sweeps=sweeps, bands=benches.BANDS, calibrated=True)).result
    for band in result["bands"]:
        inside = (band["start_hz"] <= FREQ_HZ) & (band["stop_hz"] >= FREQ_HZ)
        if band["judged_by_bound"]:
            assert band["rejection_db"]["worst"] <= truth[inside].min() + 1e-6


def test_no_verdict_of_a_jig_limited_band_is_wrong():
    rng = np.random.default_rng(12)
    limited = told = 0
    for _ in range(150):
        l_h, r_ohm = 10 ** rng.uniform(-5.3, -3.8), 10 ** rng.uniform(2.5, 4)
        device = 1 / (1 / r_ohm + 1 / (2j * np.pi * FREQ_HZ * l_h))
        stray = 2j * np.pi * FREQ_HZ * rng.uniform(0.3e-12, 6e-12)
        sweeps = {"sweep": sweep_of(s21(1 / device + stray)), "jig_open": sweep_of(s21(stray))}
        result = analyse(Request("common_mode", sweeps=sweeps, bands=benches.BANDS, calibrated=True)).result
        truth = 20 * np.log10(abs(1 + device / 100))
        for band in result["bands"]:
            if not band["judged_by_bound"]:
                continue
            limited += 1
            told += band["meets"] is not None
            at = np.union1d(FREQ_HZ, [band["start_hz"], band["stop_hz"]])
            inside = (at >= band["start_hz"]) & (at <= band["stop_hz"])
            worst = np.interp(at, FREQ_HZ, truth)[inside].min()
            assert band["meets"] is None or band["meets"] is bool(worst >= 20 - 1e-3)
    assert limited > 50 and told / limited > 0.3
