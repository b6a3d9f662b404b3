"""An analyser with errors, written apart from the code under test: the error boxes of a textbook.

Each residual is drawn uniformly in the complex disc of its size. One path: port 2 stays as badly matched
as it is. The readings are those of the signal flow graph, not of a first-order formula.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measurements.rf.sweeps.sweep import Sweep


@dataclass(frozen=True)
class Analyser:
    """residual: directivity, source match, tracking. port2: match. drift_db: of every reading since then."""

    paths: int
    port2: float
    residual: float = 0.01
    drift_db: float = 0.05
    noise: float = 0.0005


GOOD = Analyser(2, 0.01)
FAIR = Analyser(1, 0.05)
CHEAP = Analyser(1, 0.1)
ANALYSERS = {"two paths, 40 dB": GOOD, "one path, 26 dB": FAIR, "one path, 20 dB": CHEAP}


def disc(rng: np.random.Generator, size: float) -> complex:
    return complex(size * np.sqrt(rng.random()) * np.exp(2j * np.pi * rng.random()))


class Calibrated:
    """One analyser after one calibration: its residuals are the same in every sweep, its drift is not."""

    def __init__(self, analyser: Analyser, rng: np.random.Generator) -> None:
        self.of, self.rng = analyser, rng
        self.directivity, self.source, self.reflect, self.through = (
            disc(rng, analyser.residual) for _ in range(4)
        )
        self.load = disc(rng, analyser.port2)

    def _read(self, s: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """S11 and S21 as read of a true two-port (F, 2, 2)."""
        s11, s12, s21, s22 = s[:, 0, 0], s[:, 0, 1], s[:, 1, 0], s[:, 1, 1]
        seen = s11 + s12 * s21 * self.load / (1 - s22 * self.load)
        between = (1 - s11 * self.source) * (1 - s22 * self.load) - s12 * s21 * self.source * self.load
        return self._read_reflection(seen), self._disturb((1 + self.through) * s21 / between)

    def _read_reflection(self, seen: np.ndarray) -> np.ndarray:
        return self._disturb(self.directivity + (1 + self.reflect) * seen / (1 - self.source * seen))

    def _disturb(self, values: np.ndarray) -> np.ndarray:
        drift = 10 ** (self.rng.uniform(-1, 1) * self.of.drift_db / 20)
        shape = values.shape
        noise = self.of.noise * (self.rng.normal(size=shape) + 1j * self.rng.normal(size=shape)) / np.sqrt(2)
        return values * drift + noise

    def sweep(self, freq_hz: np.ndarray, s: np.ndarray) -> Sweep:
        """(F, P, P) true S at 50 ohm to a sweep; one path leaves S12 and S22 out."""
        if s.shape[1] == 1:
            read = self._read_reflection(s[:, 0, 0])[:, None, None]
            return Sweep(freq_hz, read, np.full(1, 50.0), np.ones((1, 1), bool))
        s11, s21 = self._read(s)
        if self.of.paths == 1:
            zero = np.zeros_like(s11)
            read = np.stack([np.stack([s11, zero], -1), np.stack([s21, zero], -1)], -2)
            return Sweep(freq_hz, read, np.full(2, 50.0), np.array([[True, False], [True, False]]))
        s22, s12 = self._read(s[:, ::-1, ::-1])
        read = np.stack([np.stack([s11, s12], -1), np.stack([s21, s22], -1)], -2)
        return Sweep(freq_hz, read, np.full(2, 50.0), np.ones((2, 2), bool))
