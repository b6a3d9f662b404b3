"""Analysers with residual errors, as error boxes that hold exactly; nothing of the product but its `Sweep`.

Residuals of a class are drawn evenly in the complex disc of its size. Source of the model: the error boxes of
one-port and twelve-term calibrations (Rytting, from memory). A one-path analyser drives port 1 alone and
leaves the match of port 2 as it is.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measurements.rf.sweeps.sweep import Sweep
from tests.rf.certainty.simulated_devices import FREQ_HZ


@dataclass(frozen=True)
class AnalyserClass:
    """Sizes of what an analyser of this class leaves uncorrected."""

    name: str
    paths: int
    residual: float
    port2_match_db: float


CLASSES = {
    "two-path 40 dB": AnalyserClass("two-path 40 dB", 2, 0.01, 40.0),
    "one-path 26 dB": AnalyserClass("one-path 26 dB", 1, 0.01, 26.0),
    "one-path 20 dB": AnalyserClass("one-path 20 dB", 1, 0.01, 20.0),
}


def draw_disc(rng: np.random.Generator, radius: float) -> complex:
    return radius * np.sqrt(rng.uniform()) * np.exp(2j * np.pi * rng.uniform())


@dataclass(frozen=True)
class PortErrors:
    """Residuals of the driven port, the match of the other one, and transmission tracking."""

    directivity: complex
    tracking: complex
    source: complex
    load: complex
    transmission: complex


class Analyser:
    """One instrument of a class, with what its calibration left, and its drift and noise."""

    def __init__(self, rng: np.random.Generator, kind: AnalyserClass, drift_db: float, noise: float) -> None:
        self.rng, self.kind, self.drift_db, self.noise = rng, kind, drift_db, noise
        self.drifts_in_phase = False
        self.forward, self.backward = self._draw_port(), self._draw_port()

    def _draw_port(self) -> PortErrors:
        small = [draw_disc(self.rng, self.kind.residual) for _ in range(4)]
        load = draw_disc(self.rng, 10 ** (-self.kind.port2_match_db / 20))
        return PortErrors(small[0], small[1], small[2], load, small[3])

    def reflect(self, gamma: np.ndarray) -> Sweep:
        """S11 of a one-port."""
        read = self._disturb(self._box(gamma))[:, None, None]
        return Sweep(FREQ_HZ, read, np.array([50.0]), np.ones((1, 1), bool))

    def transmit(self, s: np.ndarray) -> Sweep:
        """A two-port; S12 and S22 only where both ports are driven."""
        out = np.zeros(s.shape, complex)
        out[:, 0, 0], out[:, 1, 0] = self._drive(s, self.forward)
        measured = np.array([[True, False], [True, False]])
        if self.kind.paths == 2:
            out[:, 1, 1], out[:, 0, 1] = self._drive(s[:, ::-1, ::-1], self.backward)
            measured = np.ones((2, 2), bool)
        return Sweep(FREQ_HZ, out, np.full(2, 50.0), measured)

    def _drive(self, s: np.ndarray, port: PortErrors) -> tuple[np.ndarray, np.ndarray]:
        s11, s12, s21, s22 = s[:, 0, 0], s[:, 0, 1], s[:, 1, 0], s[:, 1, 1]
        seen = s11 + s12 * s21 * port.load / (1 - s22 * port.load)
        passed = s21 / ((1 - s22 * port.load) * (1 - port.source * seen))
        return self._disturb(self._box(seen, port)), self._disturb((1 + port.transmission) * passed)

    def _box(self, gamma: np.ndarray, port: PortErrors | None = None) -> np.ndarray:
        port = port or self.forward
        return port.directivity + (1 + port.tracking) * gamma / (1 - port.source * gamma)

    def _disturb(self, values: np.ndarray) -> np.ndarray:
        """Drift since the calibration, one for each trace, and noise; a phase drifts as far as a gain."""
        drift = 10 ** (self.rng.uniform(-self.drift_db, self.drift_db) / 20)
        if self.drifts_in_phase:
            largest = 10 ** (self.drift_db / 20) - 1
            drift = drift * np.exp(1j * self.rng.uniform(-largest, largest))
        noise = self.rng.standard_normal(values.shape) + 1j * self.rng.standard_normal(values.shape)
        return values * drift + self.noise * noise / np.sqrt(2)
