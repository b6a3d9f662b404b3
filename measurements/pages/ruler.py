"""The log-frequency rule above the band chips: ticks, and a block for each band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from measurements.queries.rows import BandRow

WIDTH = 1000.0
LOW_MHZ, HIGH_MHZ = 1.6, 60.0
NAMED = (2, 5, 10, 20, 50)
TICKS_MHZ = (2, 3, 4, 5, 6, 7, 8, 9, 10, 20, 30, 40, 50)
NARROWEST = 4.0  # a band must be seen


@dataclass(frozen=True)
class Tick:
    x: float
    length: int
    label: str


@dataclass(frozen=True)
class Block:
    band: str
    x: float
    width: float


def ticks() -> list[Tick]:
    """Ticks with their place; the named ones are longer."""
    return [Tick(_x(mhz), 18 if mhz in NAMED else 10, f"{mhz}" if mhz in NAMED else "") for mhz in TICKS_MHZ]


def blocks(bands: Sequence[BandRow]) -> list[Block]:
    """Where each band lies; bands outside of the rule are left out."""
    return [
        Block(
            row.band, _x(row.start_hz / 1e6), max(_x(row.stop_hz / 1e6) - _x(row.start_hz / 1e6), NARROWEST)
        )
        for row in bands
        if row.start_hz / 1e6 >= LOW_MHZ and row.stop_hz / 1e6 <= HIGH_MHZ
    ]


def _x(mhz: float) -> float:
    return round(WIDTH * math.log(mhz / LOW_MHZ) / math.log(HIGH_MHZ / LOW_MHZ), 1)
