"""The swept curve of an unmarked core beside the likeliest mixes, as the coordinates of a small drawing.

Nothing of the sweep is kept, so no chart can be fetched for it afterwards: the page carries its own.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from measurements.charts.frequency_axis import LOG_TICKS_MHZ
from measurements.pages import figures
from measurements.pages.tables import Table
from measurements.queries.rows_of_predictions import IdentificationRow

WIDTH, HEIGHT = 640, 300
DRAWN = 2  # mixes beside the sweep
TICKS_OHM = tuple(step * 10**decade for decade in range(6) for step in (1, 2, 5))


@dataclass(frozen=True)
class Curve:
    """A line of the drawing: its words, its class, its path."""

    label: str
    look: str
    path: str


@dataclass(frozen=True)
class Picture:
    """Curves and ticks (place, words) in the drawing's own units."""

    curves: tuple[Curve, ...]
    across: tuple[tuple[float, str], ...]
    upward: tuple[tuple[float, str], ...]
    words: str


def of(told: IdentificationRow) -> Picture:
    """|Z| over frequency, both logarithmic: the sweep and the two likeliest mixes as fitted."""
    given = [("as swept", told.impedance_ohm)]
    given += [(f"mix {each.mix}", each.impedance_ohm) for each in told.mixes[:DRAWN]]
    values = [value for _, curve in given for value in curve if value > 0]
    x = _Scale(told.freq_hz[0], told.freq_hz[-1], WIDTH)
    # from one round figure to another, so that even a flat curve has two to be read by
    low = max((tick for tick in TICKS_OHM if tick <= min(values)), default=min(values))
    high = min((tick for tick in TICKS_OHM if tick >= max(values)), default=max(values))
    y = _Scale(low, high, HEIGHT)
    curves = tuple(
        Curve(label, f"fit-{index}", _path(told.freq_hz, curve, x, y))
        for index, (label, curve) in enumerate(given)
    )
    across = tuple((round(x.at(mhz * 1e6), 1), f"{mhz:g}") for mhz in LOG_TICKS_MHZ if x.holds(mhz * 1e6))
    upward = tuple((round(HEIGHT - y.at(ohm), 1), f"{ohm:,}") for ohm in TICKS_OHM if y.holds(ohm))
    names = " and ".join(label for label, _ in given[1:])
    return Picture(curves, across, upward, f"Impedance over frequency as swept, beside {names} as fitted.")


def table(told: IdentificationRow) -> Table:
    """The same as figures."""
    step = max(1, len(told.freq_hz) // 20)
    heads = ("MHz", "As swept, ohm", *(f"Mix {each.mix}, ohm" for each in told.mixes[:DRAWN]))
    rows = tuple(
        (
            figures.mhz(told.freq_hz[at]),
            figures.plain(told.impedance_ohm[at], 0),
            *(figures.plain(each.impedance_ohm[at], 0) for each in told.mixes[:DRAWN]),
        )
        for at in range(0, len(told.freq_hz), step)
    )
    return Table(heads, rows)


@dataclass(frozen=True)
class _Scale:
    """A logarithmic scale from `low` to `high` over so many units."""

    low: float
    high: float
    units: float

    def at(self, value: float) -> float:
        return self.units * math.log(value / self.low) / math.log(self.high / self.low)

    def holds(self, value: float) -> bool:
        return self.low <= value <= self.high


def _path(freq_hz: Sequence[float], values: Sequence[float], x: _Scale, y: _Scale) -> str:
    points = [
        f"{x.at(freq):.1f} {HEIGHT - y.at(max(value, y.low)):.1f}"
        for freq, value in zip(freq_hz, values, strict=True)
    ]
    return "M" + "L".join(points)
