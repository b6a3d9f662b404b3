"""Invented curves to draw: a lossy parallel resonance, so that they look like a choke's."""

from __future__ import annotations

from datetime import date

import numpy as np

from measurements.selectors.designs.rows import DesignRow
from measurements.selectors.evidence.design_curves import CurveSet
from measurements.selectors.reference.reference import BandRow

FREQ_HZ = np.geomspace(1e6, 54e6, 97)
BANDS = tuple(
    BandRow(2, name, start, stop, date(2020, 1, 1), None, "invented", "invented", date(2020, 1, 1), "")
    for name, start, stop in (
        ("160m", 1.8e6, 2.0e6),
        ("80m", 3.5e6, 4.0e6),
        ("60m", 5.3e6, 5.4e6),
        ("40m", 7.0e6, 7.3e6),
        ("30m", 10.1e6, 10.15e6),
        ("20m", 14.0e6, 14.35e6),
        ("17m", 18.068e6, 18.168e6),
        ("15m", 21.0e6, 21.45e6),
        ("12m", 24.89e6, 24.99e6),
        ("10m", 28.0e6, 29.7e6),
        ("6m", 50e6, 54e6),
    )
)


def impedance_ohm(resonance_hz: float = 12e6, peak_ohm: float = 4200.0, q: float = 0.9) -> np.ndarray:
    """Complex impedance of R, L and C in parallel at FREQ_HZ."""
    detune = FREQ_HZ / resonance_hz - resonance_hz / FREQ_HZ
    return peak_ohm / (1 + 1j * q * detune)


def rejection_db(z_ohm: np.ndarray) -> np.ndarray:
    return 20 * np.log10(np.abs(1 + z_ohm / 100))


def statistic(values: np.ndarray, *, public: bool = False) -> dict:
    low, middle, high = np.percentile(values, [10, 50, 90], axis=0)
    if public:
        return {"median": middle.tolist(), "p10": None, "p90": None}
    return {"median": middle.tolist(), "p10": low.tolist(), "p90": high.tolist()}


def curve_set(devices: int = 8, *, public: bool = False) -> CurveSet:
    source = np.random.default_rng(7)
    z_ohm = np.array(
        [
            impedance_ohm(12e6 * source.lognormal(0, 0.1), 4200 * source.lognormal(0, 0.15))
            for _ in range(devices)
        ]
    )
    rejection = rejection_db(z_ohm)
    return CurveSet(
        freq_hz=tuple(FREQ_HZ.tolist()),
        rejection_db=statistic(rejection, public=public),
        resistance_ohm=statistic(z_ohm.real, public=public),
        reactance_ohm=statistic(z_ohm.imag, public=public),
        impedance_ohm=statistic(np.abs(z_ohm), public=public),
        devices="5-9" if public else devices,
    )


def design(title: str = "1:1 choke, 11 turns coax RG-316 on 2 stacked 2631803802 (mix 31)") -> DesignRow:
    return DesignRow(
        key="abcdefghjkmn",
        title=title,
        recipe={},
        purpose="choke",
        principle="current",
        ratio="1:1",
        mix="31",
        core="2631803802",
        core_count=2,
        turns=11,
        style="coax",
        evidence=(),
        joint=None,
        own_devices=0,
    )
