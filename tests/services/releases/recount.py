"""Counts a release's figures again from its CSV and the bytes of the sweeps, with nothing of the project.

Standard library, numpy and scipy alone: a reader of the files could run this. Formulas are those of the trade
page (sections 3.1, 3.2, 3.3 one_port, 7) and of textbooks, named beside each.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Mapping

import numpy as np
from scipy import stats

BANDS_MHZ = {"80m": (3.5, 4.0), "40m": (7.0, 7.3), "20m": (14.0, 14.35), "10m": (28.0, 29.7)}  # Region 2
METRICS = {"common_mode": "rejection_db", "insertion_loss": "loss_db", "load_match": "swr"}
STEPS = {"rejection_db": (1.0, 0.5), "loss_db": (0.1, 0.05), "swr": (0.05, 0.02)}  # trade page, section 8
LIMITS = {"rejection_db": 20.0, "loss_db": 0.5, "swr": 1.5}
UNITS = {"rejection_db": 1.0, "loss_db": -0.1, "swr": -0.1}


def read_csv(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"))))


def read_columns(data: bytes) -> tuple[np.ndarray, np.ndarray]:
    """Frequencies in Hz and the complex columns of a Touchstone file in real and imaginary parts."""
    rows = [line.split() for line in data.decode().splitlines() if line and line[0] not in "!#"]
    numbers = np.array(rows, dtype=float)
    return numbers[:, 0], numbers[:, 1::2] + 1j * numbers[:, 2::2]


def put_in_band(freq_hz: np.ndarray, values: np.ndarray, band: str) -> np.ndarray:
    """The complex readings inside a band, and at its edges between neighbours."""
    low, high = (1e6 * edge for edge in BANDS_MHZ[band])
    inside = freq_hz[(freq_hz > low) & (freq_hz < high)]
    at = np.array([low, *inside, high])
    return np.interp(at, freq_hz, values.real) + 1j * np.interp(at, freq_hz, values.imag)


def find_worst_rejection(files: Mapping[str, bytes], band: str) -> float:
    freq_hz, columns = read_columns(files["sweep"])
    return float(-20 * np.log10(np.abs(put_in_band(freq_hz, columns[:, 1], band)).max()))


def find_worst_swr(files: Mapping[str, bytes], band: str) -> float:
    freq_hz, columns = read_columns(files["sweep"])
    size = np.abs(put_in_band(freq_hz, columns[:, 0], band)).max()
    return float((1 + size) / (1 - size))


def find_worst_loss(files: Mapping[str, bytes], band: str, load_ohm: float, nominal_ohm: float) -> float:
    """one_port: A, B, C, D from three input impedances, then the loss from 50 ohm into the nominal load."""
    sides = []
    for role in ("far_open", "far_short", "far_load"):
        freq_hz, columns = read_columns(files[role])
        gamma = put_in_band(freq_hz, columns[:, 0], band)
        sides.append(50 * (1 + gamma) / (1 - gamma))
    open_ohm, short_ohm, loaded_ohm = sides
    q = load_ohm * (open_ohm - loaded_ohm) / (loaded_ohm - short_ohm)
    c = 1 / np.sqrt((open_ohm - short_ohm) * q)
    a, b, d = open_ohm * c, short_ohm * q * c, q * c
    # transducer loss of a two-port between 50 ohm and the load (textbook)
    bottom = a * nominal_ohm + b + 50 * (c * nominal_ohm + d)
    share = 4 * 50 * nominal_ohm / np.abs(bottom) ** 2
    return float(-10 * np.log10(share.min()))


def count_evidence(metric: str, worst: Iterable[float]) -> dict[str, float | str]:
    """Chance, verdict, percentiles, share and bound of one design on one band, a device a person."""
    values, unit, limit = np.array(list(worst)), UNITS[metric], LIMITS[metric]
    n = values.size
    better = values / unit  # larger is better
    spread = better.std(ddof=1) * math.sqrt(1 + 1 / n)
    chance = stats.t.cdf((better.mean() - limit / unit) / spread, n - 1)
    passing = int((better >= limit / unit).sum())
    z = stats.norm.ppf(0.9)
    middle, half = passing + z**2 / 2, z * math.sqrt(passing * (n - passing) / n + z**2 / 4)
    factor = stats.nct.ppf(0.9, n - 1, math.sqrt(n) * stats.norm.ppf(0.9)) / math.sqrt(n)
    bound = values.mean() - math.copysign(factor, unit) * values.std(ddof=1)
    return {
        "chance": float(chance),
        "passing": passing,
        "share": passing / n,
        "share_low": (middle - half) / (n + z**2),
        "share_high": (middle + half) / (n + z**2),
        **{name: float(np.percentile(values, percent)) for name, percent in PERCENTS.items()},
        "bound": float(bound),
    }


PERCENTS = {"median": 50, "p10": 10, "p25": 25, "p75": 75, "p90": 90}
