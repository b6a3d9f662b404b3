"""The log-frequency rule above the band chips: ticks, and a block for each band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from measurements.selectors.reference.reference import BandRow

WIDTH = 1000.0
LOW_MHZ, HIGH_MHZ = 1.6, 60.0
LABELLED_MHZ = (2, 5, 10, 20, 50)
TICKS_MHZ = (2, 3, 4, 5, 6, 7, 8, 9, 10, 20, 30, 40, 50)
MIN_BLOCK_WIDTH = 4.0  # a band must be seen


@dataclass(frozen=True)
class Tick:
    x: float
    length: int
    label: str


@dataclass(frozen=True)
class BandBlock:
    band: str
    x: float
    width: float


def build_ticks() -> list[Tick]:
    """Return ticks with their place; the named ones are longer."""
    return [
        Tick(_place_mhz(mhz), 18 if mhz in LABELLED_MHZ else 10, f"{mhz}" if mhz in LABELLED_MHZ else "")
        for mhz in TICKS_MHZ
    ]


def build_band_blocks(bands: Sequence[BandRow]) -> list[BandBlock]:
    """Place each band on the scale; bands outside of it are left out."""
    return [
        BandBlock(
            row.band,
            _place_mhz(row.start_hz / 1e6),
            max(_place_mhz(row.stop_hz / 1e6) - _place_mhz(row.start_hz / 1e6), MIN_BLOCK_WIDTH),
        )
        for row in bands
        if row.start_hz / 1e6 >= LOW_MHZ and row.stop_hz / 1e6 <= HIGH_MHZ
    ]


def _place_mhz(mhz: float) -> float:
    return round(WIDTH * math.log(mhz / LOW_MHZ) / math.log(HIGH_MHZ / LOW_MHZ), 1)
