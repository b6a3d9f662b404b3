"""Sweeps as a bench would make them, built with scikit-rf circuits and independent of the code under test."""

from __future__ import annotations

import numpy as np
import skrf

from measurements.rf.bands import Band
from measurements.rf.sweeps.sweep import Sweep

# The band plan of region 2 as far as the tests need it (47 CFR 97.301).
BAND_40M = Band("40m", 7.0e6, 7.3e6)
BANDS = (
    Band("160m", 1.8e6, 2.0e6),
    Band("80m", 3.5e6, 4.0e6),
    BAND_40M,
    Band("20m", 14.0e6, 14.35e6),
    Band("10m", 28.0e6, 29.7e6),
)


def linear_hz(points: int = 401, start: float = 1e6, stop: float = 30e6) -> np.ndarray:
    """An analyser's own list."""
    return np.linspace(start, stop, points)


def two_port(freq_hz, s, measured=None, z0_ohm=50.0) -> Sweep:
    """(F, 2, 2) S as a full two-port unless `measured` says otherwise."""
    mask = np.ones((2, 2), dtype=bool) if measured is None else np.asarray(measured, dtype=bool)
    return Sweep(np.asarray(freq_hz, float), np.asarray(s, complex), np.full(2, float(z0_ohm)), mask)


def one_way(freq_hz, s, z0_ohm=50.0) -> Sweep:
    """What a one-way analyser saves: S11 and S21."""
    return two_port(freq_hz, s, [[True, False], [True, False]], z0_ohm)


def one_port(freq_hz, s11, z0_ohm=50.0, *, magnitude_only=False) -> Sweep:
    """(F,) S11."""
    s = np.asarray(s11, complex)[:, None, None]
    freq = np.asarray(freq_hz, float)
    return Sweep(
        freq, s, np.array([float(z0_ohm)]), np.ones((1, 1), bool), "test", (), magnitude_only=magnitude_only
    )


def medium(freq_hz) -> skrf.media.DefinedGammaZ0:
    """Ideal 50-ohm medium at these frequencies."""
    return skrf.media.DefinedGammaZ0(skrf.Frequency.from_f(freq_hz, unit="hz"), z0=50)


def choke(freq_hz, inductance=20e-6, resistance=5000.0, capacitance=2e-12) -> np.ndarray:
    """S of a textbook choke: L, R and C in parallel, all of it in series between the ports."""
    m = medium(freq_hz)
    branches = [m.inductor(inductance), m.resistor(resistance)]
    if capacitance:
        branches.append(m.capacitor(capacitance))
    # the Y parameters of two-ports in parallel add
    return skrf.network.y2s(sum(branch.y for branch in branches), 50)


def choke_z(freq_hz, inductance=20e-6, resistance=5000.0, capacitance=2e-12) -> np.ndarray:
    """Zcm of the same textbook choke, by hand."""
    jw = 2j * np.pi * np.asarray(freq_hz, float)
    return 1 / (1 / (jw * inductance) + 1 / resistance + jw * capacitance)


def noisy(s, seed: int, level: float = 0.002) -> np.ndarray:
    """Complex Gaussian noise of rms `level` on every S-parameter."""
    rng = np.random.default_rng(seed)
    noise = rng.normal(size=np.shape(s)) + 1j * rng.normal(size=np.shape(s))
    return s + level * noise / np.sqrt(2)


def codes(result) -> set[str]:
    """The codes of a result's flags."""
    return {flag["code"] for flag in result["flags"]}


def band(result, name: str) -> dict:
    """One band of a result."""
    return next(found for found in result["bands"] if found["band"] == name)
