"""Check sweeps of drawn analysers, loads and coax; nothing of the product but its `Sweep`.

Residuals lie evenly in the complex disc of their class and turn slowly over the sweep. Source of the error
box: Rytting's one-port terms (from memory). Coax: 48 to 52 ohm, velocity 0.66, 0.05 to 0.3 dB for two metres
at 30 MHz (makers' tables of 3 and 5 mm coax, from memory). Load: 45 to 56 ohm, meter within 1 %, up to 0.5 pF
and 10 nH (by judgement, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measurements.rf.sweeps.sweep import Sweep

FREQ_HZ = np.linspace(1e6, 30e6, 101)
OMEGA = 2 * np.pi * FREQ_HZ
DRIFT_DB = 0.03  # the checks follow the calibration at once
NOISE = 0.001
TERMS = ("directivity", "source_match", "reflection_tracking")


def draw_turning(rng: np.random.Generator, radius: float) -> np.ndarray:
    """(F,) a residual: anywhere in the disc, turning by up to 11 degrees over the sweep."""
    start = radius * np.sqrt(rng.uniform()) * np.exp(2j * np.pi * rng.uniform())
    return start * np.exp(1j * OMEGA * rng.uniform(-1e-9, 1e-9))


@dataclass
class CheckedAnalyser:
    """One analyser with what its calibration left over, by name (F,)."""

    rng: np.random.Generator
    radius: float
    port2_match: float = 0.1

    def __post_init__(self) -> None:
        self.terms = {name: draw_turning(self.rng, self.radius) for name in TERMS}
        self.port2 = draw_turning(self.rng, self.port2_match)

    def read(self, gamma: np.ndarray) -> Sweep:
        """S11 of a one-port, with its drift and noise."""
        d, s, t = (self.terms[name] for name in TERMS)
        seen = (d + (1 + t) * gamma / (1 - s * gamma)) * 10 ** (self.rng.uniform(-DRIFT_DB, DRIFT_DB) / 20)
        return to_sweep(seen + self._noise())

    def read_load(self) -> tuple[Sweep, float]:
        """A load, and what the meter says of it."""
        rng, ohm = self.rng, self.rng.uniform(45, 56)
        z = ohm / (1 + 1j * OMEGA * ohm * rng.uniform(0, 0.5e-12)) + 1j * OMEGA * rng.uniform(0, 10e-9)
        return self.read((z - 50) / (z + 50)), ohm * (1 + rng.uniform(-0.01, 0.01))

    def read_line(self, end: str = "open", metres: float = 1.0) -> Sweep:
        rng = self.rng
        loss = rng.uniform(0.006, 0.035) * np.sqrt(FREQ_HZ / 30e6) * metres
        inside = {"open": 1, "short": -1}[end] * np.exp(-loss * (1 + 0.5j) - 2j * OMEGA * metres / 2e8)
        ohm = rng.uniform(48, 52)
        r = (ohm - 50) / (ohm + 50)
        return self.read((r + inside) / (1 + r * inside))

    def read_through(self, loss: float = 0.0) -> Sweep:
        """The jig closed on itself, read by one path: S11 looks into port 2."""
        s = np.zeros((FREQ_HZ.size, 2, 2), complex)
        s[:, 0, 0] = self.read(self.port2).s[:, 0, 0]
        s[:, 1, 0] = (1 - loss) * np.exp(-1j * OMEGA * 0.5e-9) + self._noise()
        return Sweep(FREQ_HZ, s, np.full(2, 50.0), np.array([[True, False], [True, False]]))

    def largest(self, name: str) -> float:
        return float(np.max(np.abs(self.terms[name])))

    def _noise(self) -> np.ndarray:
        pair = self.rng.standard_normal((2, FREQ_HZ.size))
        return NOISE * (pair[0] + 1j * pair[1]) / np.sqrt(2)


def to_sweep(s11: np.ndarray) -> Sweep:
    return Sweep(FREQ_HZ, s11[:, None, None], np.array([50.0]), np.ones((1, 1), bool))
