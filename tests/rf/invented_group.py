"""An invented group of devices of one recipe, wound on the maker's published material, for tests."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from measurements.rf.diagnosis.outlying_curve import DesignRange
from measurements.rf.evidence_grid import GRID_HZ
from tests.rf.mix_tables import winding_ohm

LAST_HZ = 30e6
NOISE = 0.0005  # of S21, linear


@dataclass
class Bench:
    """Builds and measures devices; `core_spread` is the standard deviation of the cores' permeability."""

    seed: int
    mix: str = "31"
    turns: int = 12
    core_spread: float = 0.03
    stray_f: float = 3e-12

    def __post_init__(self) -> None:
        self.rng = np.random.default_rng(self.seed)

    def device_ohm(self, *, mix=None, turns=None, extra_f=0.0, leak=0.0, jig_f=0.0) -> np.ndarray:
        """Zcm on the grid as the analyser sees it. leak: S21 through the jig; jig_f: across its clips."""
        core, hand = np.clip(self.rng.normal(size=2), -2, 2)
        stray_f = self.stray_f * np.exp(0.15 * hand) + extra_f
        z_ohm = winding_ohm(
            mix or self.mix,
            turns or self.turns,
            GRID_HZ,
            stray_f=stray_f,
            scale=1 + self.core_spread * core,
        )
        return self.measured_ohm(1 / (1 / z_ohm + 2j * np.pi * GRID_HZ * jig_f), leak)

    def measured_ohm(self, z_ohm: np.ndarray, leak: complex = 0.0) -> np.ndarray:
        """Zcm = 2 Z0 (1 - S21)/S21 of a noisy S21, 1 to 30 MHz."""
        s21 = 100 / (z_ohm + 100) + leak
        s21 = s21 + NOISE * (self.rng.normal(size=s21.size) + 1j * self.rng.normal(size=s21.size))
        return np.where(GRID_HZ <= LAST_HZ, 100 * (1 - s21) / s21, np.nan)

    def design(self, devices: int) -> DesignRange:
        """The published statistics of so many devices."""
        return statistics(np.array([self.device_ohm() for _ in range(devices)]))


def statistics(curves_ohm: np.ndarray) -> DesignRange:
    """Median and percentiles per frequency of (n, G) curves."""
    size = np.abs(curves_ohm)
    low, high = np.percentile(size, (10, 90), axis=0)
    return DesignRange(
        GRID_HZ,
        np.median(curves_ohm.real, axis=0),
        np.median(curves_ohm.imag, axis=0),
        low,
        high,
        len(curves_ohm),
    )


def rejection_db(z_ohm: np.ndarray) -> np.ndarray:
    return 20 * np.log10(np.abs(1 + z_ohm / 100))
