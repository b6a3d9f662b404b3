"""Invented ratio devices with a known truth, one by one through the nodal analysis: for tests.

The stated priors are written out again here, with draws of their own; nothing of the code under test is
called.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.rf.ferrites import circuit_simulation
from tests.rf.mix_tables import mu as table_mu

MU0 = 4e-7 * np.pi
KNOTS_HZ = np.geomspace(0.25e6, 54e6, 8)


@dataclass(frozen=True)
class TrueDevice:
    """A device: what it is made of. correction: of ln mu at the knots, complex; level: of ln mu all over."""

    mix: str
    near_turns: int
    far_turns: int
    factor_m: float
    correction: np.ndarray
    leakage_h: float
    copper_per_root_hz: float
    share: float
    near_f: float
    far_f: float
    series_ohm: float = 0.0
    shunt_s: float = 0.0

    def zm(self, freq_hz: float) -> complex:
        log_mu = np.log(table_mu(self.mix, np.array([freq_hz]))[0]) + np.interp(
            np.log(freq_hz), np.log(KNOTS_HZ), self.correction
        )
        z = 2j * np.pi * freq_hz * MU0 * self.near_turns**2 * self.factor_m * np.exp(log_mu)
        return complex(1 / (1 / z + self.shunt_s))

    def measure(self, freq_hz: np.ndarray, load_ohm: float) -> np.ndarray:
        """(F, 2): loss, dB, and SWR."""
        return np.array([self._at(float(each), load_ohm) for each in freq_hz])

    def reflect(self, freq_hz: np.ndarray, load_ohm: float) -> tuple[np.ndarray, np.ndarray]:
        """S11 (F,) and loss (F,) as an analyser without errors shows them."""
        found = [
            circuit_simulation.reflect(self._circuit(float(f), load_ohm), 1, (4, 0), load_ohm)
            for f in freq_hz
        ]
        return np.array([row[0] for row in found]), np.array([row[1] for row in found])

    def _at(self, freq_hz: float, load_ohm: float) -> tuple[float, float]:
        return circuit_simulation.loss_and_swr(self._circuit(freq_hz, load_ohm), 1, (4, 0), load_ohm)

    def _circuit(self, freq_hz: float, load_ohm: float) -> circuit_simulation.Circuit:
        return circuit_simulation.build_transformer(
            freq_hz,
            load_ohm,
            zm=self.zm(freq_hz),
            step=self.far_turns / self.near_turns,
            leakage_h=self.leakage_h,
            copper_ohm=self.copper_per_root_hz * np.sqrt(freq_hz),
            share=self.share,
            near_f=self.near_f,
            far_f=self.far_f,
            series_ohm=self.series_ohm,
        )

    def changed(self, **changes) -> TrueDevice:
        return replace(self, **changes)


def draw_correction(rng: np.random.Generator) -> np.ndarray:
    """What a core is off its table: level 10 %, shape and phase 6 % over two octaves, a design's 5 %, a
    device's 8 %,
    and what a model misses, 6.4 % over an octave."""
    away = np.abs(np.subtract.outer(np.log2(KNOTS_HZ), np.log2(KNOTS_HZ)))
    wide, narrow = np.linalg.cholesky(np.exp(-away / 2)), np.linalg.cholesky(np.exp(-away))
    size = KNOTS_HZ.size
    level = rng.normal(0, 0.10) + rng.normal(0, 0.05) + rng.normal(0, 0.08)
    real = level + wide @ rng.normal(0, 0.06, size) + narrow @ rng.normal(0, 0.064, size)
    phase = wide @ rng.normal(0, 0.06, size) + narrow @ rng.normal(0, 0.064, size)
    return real + 1j * phase


def draw_separate_windings(rng, mix: str, size_mm, stacked: int, near: int, far: int, wire_mm: float,
                           compensation_f: float = 0.0) -> TrueDevice:  # fmt: skip
    """An autotransformer of single wire by the stated priors."""
    outer, inner, height = size_mm
    turn_m = 1e-3 * (2 * stacked * height + (outer - inner))
    log_stray = (
        np.log(3e-12)
        + rng.normal(0, 0.4)
        + rng.normal(0.5, 0.35) * np.log(far / 10)
        + rng.normal(0.3, 0.3) * np.log(wire_mm / 3)
        + rng.normal(0.3, 0.3) * np.log(1e3 * turn_m / 50)
        + rng.normal(0, 0.3)
        + rng.normal(0, 0.25)
        + rng.normal(0, 0.18)
    )
    step, copper_mm = far / near, 0.6 * wire_mm
    per_root = np.sqrt(np.pi * MU0 * 1.72e-8) / (np.pi * copper_mm * 1e-3)
    wire_m = near * turn_m * (1 + (step - 1) / step**2)
    return TrueDevice(
        mix=mix,
        near_turns=near,
        far_turns=far,
        factor_m=stacked * 1e-3 * height * np.log(outer / inner) / (2 * np.pi),
        correction=draw_correction(rng),
        leakage_h=0.8 * np.exp(rng.normal(0, 0.4)) * MU0 * turn_m * near**2,
        copper_per_root_hz=1.5 * np.exp(rng.normal(0, 0.3)) * per_root * wire_m,
        share=rng.uniform(),
        near_f=compensation_f + 3e-12 * np.exp(rng.normal(0, 0.5)),
        far_f=0.6e-12 * np.exp(rng.normal(0, 0.5)) + 0.35 * np.exp(rng.normal(0, 0.35)) * np.exp(log_stray),
    )
