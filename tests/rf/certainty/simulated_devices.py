"""Devices, resistors and jigs for the simulations of certainty: chains of ABCD matrices in plain numpy.

A transformer is leakage and copper in series, magnetising inductance with loss across, an ideal ratio,
leakage again, and winding capacitance at either end; values by judgement (no source). A choke is L, R and C
in parallel. A resistor is R with a capacitance across and an inductance in series. Nothing of the product is
imported here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

BAND_EDGES_HZ = {
    "80m": (3.5e6, 4.0e6),
    "40m": (7.0e6, 7.3e6),
    "20m": (14.0e6, 14.35e6),
    "10m": (28.0e6, 29.7e6),
}
# an even sweep with the edges of the bands among its points, so that nothing has to be interpolated
FREQ_HZ = np.unique(np.concatenate([np.linspace(1e6, 30e6, 30), *BAND_EDGES_HZ.values()]))
OMEGA = 2 * np.pi * FREQ_HZ


def matrix(a, b, c, d) -> np.ndarray:
    """(F, 2, 2) of four numbers or (F,) arrays."""
    rows = [np.broadcast_to(np.asarray(x, complex), FREQ_HZ.shape) for x in (a, b, c, d)]
    return np.stack([np.stack(rows[:2], -1), np.stack(rows[2:], -1)], -2)


def series(z) -> np.ndarray:
    return matrix(1, z, 0, 1)


def shunt(y) -> np.ndarray:
    return matrix(1, 0, y, 1)


def ideal(ratio: float) -> np.ndarray:
    """Steps an impedance up by `ratio` towards port 2."""
    turns = np.sqrt(ratio)
    return matrix(1 / turns, 0, 0, turns)


def reverse(abcd: np.ndarray) -> np.ndarray:
    """The same reciprocal two-port with its ends exchanged."""
    a, b, c, d = abcd[:, 0, 0], abcd[:, 0, 1], abcd[:, 1, 0], abcd[:, 1, 1]
    return matrix(d, b, c, a)


def to_s(abcd: np.ndarray, z1: float = 50.0, z2: float = 50.0) -> np.ndarray:
    """(F, 2, 2) S between real references (Frickey 1994, from memory)."""
    a, b, c, d = abcd[:, 0, 0], abcd[:, 0, 1], abcd[:, 1, 0], abcd[:, 1, 1]
    total = a * z2 + b + c * z1 * z2 + d * z1
    root = 2 * np.sqrt(z1 * z2)
    return matrix(
        (a * z2 + b - c * z1 * z2 - d * z1) / total,
        root * (a * d - b * c) / total,
        root / total,
        (-a * z2 + b - c * z1 * z2 + d * z1) / total,
    )


def input_reflection(abcd: np.ndarray, end) -> np.ndarray:
    """(F,) reflection at port 1 with "open", "short" or (F,) ohm at port 2."""
    a, b, c, d = abcd[:, 0, 0], abcd[:, 0, 1], abcd[:, 1, 0], abcd[:, 1, 1]
    ends = {"open": (1.0, 0.0), "short": (0.0, 1.0)}  # the end as a ratio of two numbers
    over, under = ends[end] if isinstance(end, str) else (end, 1.0)
    z = (a * over + b * under) / (c * over + d * under)
    return (z - 50) / (z + 50)


@dataclass(frozen=True)
class Transformer:
    """As seen from the 50-ohm side, where `near` of the series parts lie and 1 - `far` of the capacitance."""

    ratio: float
    magnetising_h: float
    loss_ohm: float
    leakage_h: float
    capacitance_f: float
    copper_ohm: float
    near: float = 0.5
    far: float = 0.5

    def abcd(self) -> np.ndarray:
        along = self.copper_ohm + 1j * OMEGA * self.leakage_h
        across = 1 / self.loss_ohm + 1 / (1j * OMEGA * self.magnetising_h)
        parts = (
            shunt(1j * OMEGA * self.capacitance_f * (1 - self.far)),
            series(along * self.near),
            shunt(across),
            ideal(self.ratio),
            series(along * (1 - self.near) * self.ratio),
            shunt(1j * OMEGA * self.capacitance_f * self.far / self.ratio),
        )
        whole = parts[0]
        for part in parts[1:]:
            whole = whole @ part
        return whole

    def like(self, rng: np.random.Generator, spread: float) -> Transformer:
        """Another one of the same make: each value within `spread` of this one's."""
        names = ("magnetising_h", "loss_ohm", "leakage_h", "capacitance_f", "copper_ohm")
        values = {name: getattr(self, name) * rng.uniform(1 - spread, 1 + spread) for name in names}
        return Transformer(self.ratio, **values, near=self.near, far=self.far)


def draw_transformer(rng: np.random.Generator, ratio: float) -> Transformer:
    """From good (0.1 dB) to poor (over 1 dB), evenly in the logarithm of each value."""

    def between(low: float, high: float) -> float:
        return float(np.exp(rng.uniform(np.log(low), np.log(high))))

    capacitance = {1: (3e-12, 20e-12), 4: (8e-12, 40e-12), 9: (15e-12, 60e-12), 49: (40e-12, 120e-12)}[ratio]
    return Transformer(
        ratio,
        between(4e-6, 15e-6),
        between(600, 3000),
        between(40e-9, 200e-9),
        between(*capacitance),
        between(0.05, 0.4),
        near=rng.uniform(0.3, 0.7),
        far=rng.uniform(0.3, 0.7),
    )


def true_loss_db(device: Transformer) -> np.ndarray:
    """(F,) between 50 ohm and ratio x 50 ohm."""
    return -20 * np.log10(np.abs(to_s(device.abcd(), 50.0, 50.0 * device.ratio)[:, 1, 0]))


def list_points_by_band() -> dict[str, np.ndarray]:
    """Which points lie in each band, edges included."""
    return {name: (low <= FREQ_HZ) & (high >= FREQ_HZ) for name, (low, high) in BAND_EDGES_HZ.items()}


def worst_by_band(values: np.ndarray, pick=np.max) -> dict[str, float]:
    """The worst of (F,) values in each band, edges included."""
    return {
        name: float(pick(values[(low <= FREQ_HZ) & (high >= FREQ_HZ)]))
        for name, (low, high) in BAND_EDGES_HZ.items()
    }


def draw_choke_ohm(rng: np.random.Generator, least_db: float, most_db: float) -> np.ndarray:
    """(F,) Zcm of a choke whose worst rejection over 7 to 30 MHz lies between two figures."""
    while True:
        inductance, resistance = rng.uniform(5e-6, 60e-6), rng.uniform(800, 5000)
        capacitance = rng.uniform(0.5e-12, 5e-12)
        y = 1 / (1j * OMEGA * inductance) + 1 / resistance + 1j * OMEGA * capacitance
        z = 1 / y
        worst = rejection_db(z)[FREQ_HZ >= 7e6].min()
        if least_db <= worst <= most_db:
            return z


def rejection_db(z_ohm: np.ndarray) -> np.ndarray:
    return 20 * np.log10(np.abs(1 + z_ohm / 100))


def draw_resistor_ohm(rng: np.random.Generator, nominal: float, percent: float) -> tuple[float, np.ndarray]:
    """A resistor of this tolerance: its value at DC, and its impedance (F,) with 0.3 to 0.5 pF and 8 nH."""
    value = nominal * (1 + rng.uniform(-percent, percent) / 100)
    stray = rng.uniform(0.3e-12, 0.5e-12)
    return value, value / (1 + 1j * OMEGA * value * stray) + 1j * OMEGA * 8e-9
