"""Chokes, jigs and transformers with their sweeps, written apart from the code under test.

A choke is turns on a ferrite of relaxing permeability with stray capacitance, in a jig with stray to ground,
across its clips and in its leads. Transformers are those of `transformer_simulation`. Values are by
judgement.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import skrf

from tests.rf import transformer_simulation as transformers
from tests.rf.transformer_simulation import FREQ_HZ, MEDIUM, Design

OMEGA = 2 * np.pi * FREQ_HZ
ONE = np.ones(len(FREQ_HZ), complex)


def abcd(a, b, c, d) -> np.ndarray:
    columns = [ONE * each for each in (a, b, c, d)]
    return np.stack([np.stack(columns[:2], -1), np.stack(columns[2:], -1)], -2)


def series(z) -> np.ndarray:
    return abcd(1, z, 0, 1)


def shunt(y) -> np.ndarray:
    return abcd(1, 0, y, 1)


def cable(metres: float, loss_db: float = 0.0, velocity: float = 0.66) -> np.ndarray:
    """A 50-ohm cable left in."""
    gamma = loss_db / 8.686 + 1j * OMEGA * metres / (299792458 * velocity)
    return abcd(np.cosh(gamma), 50 * np.sinh(gamma), np.sinh(gamma) / 50, np.cosh(gamma))


def to_s(chain: np.ndarray) -> np.ndarray:
    return skrf.network.a2s(chain, np.full((len(FREQ_HZ), 2), 50 + 0j))


@dataclass(frozen=True)
class Jig:
    ground_f: float = 3e-12
    clips_f: float = 0.5e-12
    leads_h: float = 40e-9
    leads_ohm: float = 0.1

    def around(self, y_device) -> np.ndarray:
        """ABCD with an admittance between the clips."""
        z_leads = self.leads_ohm + 1j * OMEGA * self.leads_h
        between = 1 / (y_device + 1j * OMEGA * self.clips_f)
        return (
            shunt(1j * OMEGA * self.ground_f) @ series(z_leads + between) @ shunt(1j * OMEGA * self.ground_f)
        )

    def short(self) -> np.ndarray:
        z_leads = self.leads_ohm + 1j * OMEGA * self.leads_h
        return shunt(1j * OMEGA * self.ground_f) @ series(z_leads) @ shunt(1j * OMEGA * self.ground_f)


@dataclass(frozen=True)
class Choke:
    inductance_h: float = 40e-6
    relaxes_hz: float = 4e6
    stray_f: float = 2e-12

    def admittance(self) -> np.ndarray:
        permeability = 1 / (1 + 1j * FREQ_HZ / self.relaxes_hz) ** 0.9
        return 1 / (1j * OMEGA * self.inductance_h * permeability + 0.2) + 1j * OMEGA * self.stray_f


def draw_choke(rng: np.random.Generator) -> Choke:
    return Choke(10 ** rng.uniform(-5.2, -3.8), 10 ** rng.uniform(6.3, 7.7), rng.uniform(0.5e-12, 5e-12))


def draw_jig(rng: np.random.Generator) -> Jig:
    return Jig(
        rng.uniform(0.5e-12, 6e-12),
        rng.uniform(0.1e-12, 1.5e-12),
        rng.uniform(10e-9, 120e-9),
        rng.uniform(0.02, 0.3),
    )


def draw_transformer(rng: np.random.Generator, ratio: int) -> Design:
    """From good to poor."""
    if ratio == 1:
        good, poor = (
            Design(1, 40e-6, 8000.0, 60e-9, 10e-12, 0.05),
            Design(1, 5e-6, 900.0, 300e-9, 40e-12, 0.4),
        )
    else:
        good, poor = transformers.GOOD[ratio], transformers.POOR[ratio]
    share = rng.random()
    values = {
        name: getattr(good, name) ** (1 - share) * getattr(poor, name) ** share * np.exp(0.1 * rng.normal())
        for name in ("magnetising_h", "loss_ohm", "leakage_h", "capacitance_f", "copper_ohm")
    }
    return Design(ratio, **values, near=rng.uniform(0.2, 0.8), far=rng.uniform(0.2, 0.8))


def vary(rng: np.random.Generator, design: Design, spread: float = 0.1) -> Design:
    """Another build of the same recipe."""
    names = ("magnetising_h", "loss_ohm", "leakage_h", "capacitance_f", "copper_ohm")
    values = {name: getattr(design, name) * np.exp(spread * rng.normal()) for name in names}
    return Design(design.ratio, **values, near=design.near, far=design.far)


def with_series_resistor(design: Design, ohm: float) -> np.ndarray:
    return (transformers.device(design) ** MEDIUM.resistor(ohm)).s if ohm else transformers.device(design).s


def turned(s: np.ndarray) -> np.ndarray:
    return s[:, ::-1, ::-1]


def ended(design: Design, end: float | str, *, turn: bool = False) -> np.ndarray:
    """S11 (F, 1, 1) of the device with its far side in `end`."""
    ends = {"open": MEDIUM.open(), "short": MEDIUM.short()}
    network = transformers.device(design)
    network = network.flipped() if turn else network
    far = ends[end] if isinstance(end, str) else MEDIUM.resistor(end) ** MEDIUM.short()
    return (network**far).s


def dipole(length_mhz: float = 7.1, q: float = 12.0, ohm: float = 60.0) -> np.ndarray:
    """S11 (F, 1, 1) near a series resonance and its odd harmonics: R + jX of an open line with loss."""
    quarter = np.pi / 2 * FREQ_HZ / (length_mhz * 1e6)
    z0 = ohm * q * 4 / np.pi
    z = z0 / np.tanh(ohm / z0 * (FREQ_HZ / (length_mhz * 1e6)) ** 0.3 + 1j * quarter)
    return ((z - 50) / (z + 50))[:, None, None]
