"""Baluns as three-ports: nodal admittances in plain numpy; nothing of the product is imported here.

Port 1 drives a winding with leakage and loss; the two halves of the far winding feed ports 2 and 3 against
the shield. The halves differ in turns, leakage and stray to ground. Values by judgement (no source).
"""

from __future__ import annotations

import numpy as np

from tests.rf.certainty.simulated_devices import FREQ_HZ, OMEGA


def draw_balun_s(rng: np.random.Generator) -> np.ndarray:
    """(F, 3, 3) S at 50 ohm of a drawn balun: imbalances of up to some 2 dB and 15 degrees."""
    turns = np.array([1.0, -1.0]) * (1 + rng.uniform(-0.06, 0.06, 2))
    leakage_h, stray_f = rng.uniform(20e-9, 120e-9, 2), rng.uniform(1e-12, 25e-12, 2)
    magnetising = 1 / (1j * OMEGA * rng.uniform(4e-6, 15e-6)) + 1 / rng.uniform(600, 3000)
    y = np.zeros((FREQ_HZ.size, 3, 3), complex)
    y[:, 0, 0] += magnetising
    for index in (0, 1):
        # an ideal winding of n turns in series with its leakage, from the shield to its terminal
        n, port = turns[index], index + 1
        along = 1 / (0.2 + 1j * OMEGA * leakage_h[index])
        y[:, port, port] += along + 1j * OMEGA * stray_f[index]
        y[:, 0, 0] += n * n * along
        y[:, 0, port] -= n * along
        y[:, port, 0] -= n * along
    one = np.eye(3)
    return np.linalg.solve(one + 50 * y, one - 50 * y)


def end_port(s: np.ndarray, port: int, gamma: np.ndarray) -> np.ndarray:
    """(F, P, P) with a reflection (F,) on one port, which then no longer counts."""
    loop = gamma / (1 - s[:, port, port] * gamma)
    return s + s[:, :, port, None] * s[:, None, port, :] * loop[:, None, None]
