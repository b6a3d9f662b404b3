"""Cable between the device and port 2 that no calibration took out, in a sweep of S11 and S21 alone.

A series impedance has S11 + S21 = 1. A delay T behind it turns S21 by exp(-j w T) and leaves S11 alone, so
S11 + S21 exp(j w T) = 1 holds for one T. What an honest analyser adds changes slowly over frequency: it is
fitted with prior sizes, and T is claimed where no such error explains the sweep without it (generalised least
squares; textbook). Rejection hardly moves, which is why no figure shows it.
"""

from __future__ import annotations

import numpy as np

from measurements.rf.impedance_ratio import NOMINAL_OHM
from measurements.rf.instruments.assumed_errors import STRAY_F, AssumedErrors
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep
from measurements.rf.wrong_input.choke_sweeps import has_both_columns

SPEED_M_PER_S = 0.66 * 299_792_458.0  # of waves in common coax (textbook)
STEP_S, LONGEST_DELAY_S = 0.8e-9, 30e-9  # from 16 cm to 6 m of cable
CLAIMED_FROM = 12.0  # twice the gain in ln likelihood; honest sweeps gain 1 at most (tests/rf/wrong_input)
LEAST_MISFIT = 0.01  # of S11 + S21 = 1: what the least assumed error of an analyser makes alone
_UNEVEN_F = 3e-12
_MOST_POINTS = 60
_SLOPE = 0.5  # of an error's size: by how much it changes towards either end of the sweep


def find_delay_behind_port2(test: Sweep, errors: AssumedErrors) -> float | None:
    """Return the delay (seconds) behind port 2 that a sweep with S11 and S21 has; None where it needs none.

    A full two-port shows it by itself (`choke_sweeps.flag_cable_left_in`), so it is left alone here.
    """
    if not has_both_columns(test) or test.measured.all():
        return None
    known = np.flatnonzero(np.isfinite(test.s[:, 0, 0]) & np.isfinite(test.s[:, 1, 0]))
    if known.size < 2 * 9 or test.freq_hz[known[-1]] < 4 * test.freq_hz[known[0]]:
        return None
    at = known[np.unique(np.linspace(0, known.size - 1, _MOST_POINTS).astype(int))]
    freq_hz, s11, s21 = test.freq_hz[at], test.s[at, 0, 0], test.s[at, 1, 0]
    if np.abs(s11 + s21 - 1).max() < LEAST_MISFIT:
        return None
    none = _measure_misfit(freq_hz, s11, s21, errors)
    delays = np.arange(STEP_S, LONGEST_DELAY_S, STEP_S)
    turned = [s21 * np.exp(2j * np.pi * freq_hz * delay) for delay in delays]
    misfits = np.array([_measure_misfit(freq_hz, s11, each, errors) for each in turned])
    best = int(np.argmin(misfits))
    return float(delays[best]) if none - misfits[best] >= CLAIMED_FROM else None


def _measure_misfit(freq_hz: Floats, s11: Complexes, s21: Complexes, errors: AssumedErrors) -> float:
    """Measure -2 ln likelihood of S11 + S21 - 1, with what an analyser and a jig may add to it."""
    columns = _list_errors(freq_hz, s11, s21, errors)
    noise = max(errors.noise, 1e-4)
    weighted = np.concatenate([columns / noise, np.eye(columns.shape[1])])
    target = np.concatenate([(s11 + s21 - 1) / noise, np.zeros(columns.shape[1])])
    q, r = np.linalg.qr(weighted)
    left = target - q @ (q.conj().T @ target)
    spread = 2 * float(np.sum(np.log(np.abs(np.diag(r)))))  # ln det of the covariance, up to a constant
    return float(np.sum(np.abs(left) ** 2)) + spread


def _list_errors(freq_hz: Floats, s11: Complexes, s21: Complexes, errors: AssumedErrors) -> Complexes:
    """Return (F, E): each error at its full size, once even and once tilted over the sweep."""
    small, moved = errors.reflection, errors.reflection + errors.drift
    omega = 2 * np.pi * freq_hz
    even = [
        small * np.ones(freq_hz.size),  # directivity
        moved * s11,  # tracking of reflection
        small * s11**2,  # source match
        moved * s21,  # tracking of transmission
        small * s11 * s21,
        errors.port2_match * (s21**2 + s11 * s21),
    ]
    span = (freq_hz - freq_hz.mean()) / max(float(np.ptp(freq_hz)) / 2, 1.0)
    strays = [
        2 * omega * STRAY_F * NOMINAL_OHM * np.ones(freq_hz.size),
        2 * omega * _UNEVEN_F * NOMINAL_OHM * s21,
    ]
    tilted = [_SLOPE * span * each for each in even]
    found: Complexes = np.stack([*even, *tilted, *strays], axis=1).astype(np.complex128)
    return found
