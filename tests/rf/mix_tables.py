"""Complex permeability as the maker publishes it, and a winding on it, for tests.

Rows f in MHz, mu', mu'' from the maker's own tables (Fair-Rite CSV downloads; the rows that the trade's
reference quotes). The winding is the textbook formula, written here and not taken from the code under test.
"""

from __future__ import annotations

import numpy as np

MIXES = {
    "31": (
        (0.1, 1401.93, 41.61), (1, 1400.65, 463.22), (2, 980.76, 734.77), (3.56, 590.0, 657.67),
        (5.43, 409.0, 527.0), (7.2, 329.0, 444.33), (11.0, 248.0, 346.67), (14.6, 206.0, 299.0),
        (19.3, 168.0, 260.0), (29.5, 115.67, 210.33), (51.8, 61.8, 151.67), (124, 14.7, 86.5),
    ),
    "43": (
        (0.1, 809.44, 7.77), (1, 851.36, 48.0), (1.975, 906.44, 217.98), (3.459, 708.02, 417.68),
        (4.959, 533.25, 431.93), (7.11, 394.0, 394.37), (10.194, 292.6, 340.03), (14.043, 226.28, 292.63),
        (20.134, 169.06, 246.23), (30.045, 117.12, 202.49), (50.558, 64.71, 151.04), (99.849, 21.83, 92.81),
    ),
    "61": (
        (1, 123.625, 0.497), (1.97, 123.644, 0.496), (3.46, 123.943, 0.598), (4.96, 124.562, 0.723),
        (7.11, 125.983, 0.953), (10.2, 129.098, 1.492), (13.9, 133.588, 3.0), (20.1, 149.694, 12.966),
        (30.5, 149.886, 71.434), (49.3, 81.279, 83.851), (101.0, 39.421, 59.682),
    ),
    "73": (
        (0.1, 2385.84, 27.72), (1, 2374.43, 1076.78), (2, 1392.67, 1307.65), (3, 960.09, 1131.99),
        (5, 625.96, 897.23), (7, 455.69, 779.77), (10, 287.12, 663.46), (15, 129.91, 509.63),
        (20, 57.54, 399.26), (30, 4.06, 264.31), (50, -12.57, 145.14), (100, -5.49, 62.77),
    ),
    "77": (
        (0.1, 2001, 37), (1, 2074, 946), (1.84, 1174, 1286), (3.4, 407, 1020), (5.38, 88, 708),
        (7.31, -11, 506), (9.92, -40, 346), (15.7, -39, 197), (33.7, -22, 76), (98.4, -6, 20),
    ),
}  # fmt: skip
INITIAL = {"31": 1500.0, "43": 800.0, "61": 125.0, "73": 2500.0, "77": 2000.0}
TOROID_MM = (61.0, 35.55, 12.7)


def columns(mix: str) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Frequency in Hz, mu', mu''."""
    freq_mhz, real, imag = np.array(MIXES[mix], dtype=float).T
    return freq_mhz * 1e6, real, imag


def mu(mix: str, freq_hz: np.ndarray) -> np.ndarray:
    """mu' - j mu'' between the rows, linear in log frequency."""
    rows_hz, real, imag = columns(mix)
    at = np.log(freq_hz)
    return np.interp(at, np.log(rows_hz), real) - 1j * np.interp(at, np.log(rows_hz), imag)


def winding_ohm(mix, turns, freq_hz, *, size_mm=TOROID_MM, stray_f=3e-12, scale=1.0) -> np.ndarray:
    """j w mu0 mu N^2 h ln(OD/ID)/(2 pi), in parallel with a capacitance (Parker 2008, Fair-Rite)."""
    outer, inner, height = size_mm
    l0 = 2e-7 * height * 1e-3 * np.log(outer / inner)
    admittance = 1 / (2j * np.pi * freq_hz * l0 * turns**2 * scale * mu(mix, freq_hz))
    return 1 / (admittance + 2j * np.pi * freq_hz * stray_f)
