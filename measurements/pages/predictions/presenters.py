"""Predictions as a reader meets them: a chance in words, and a small picture's coordinates for each band."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from measurements.charts.panel_layers import LOG_TICKS_MHZ
from measurements.pages.designs.presenters import Plot, scale_to_plot
from measurements.pages.layout import figures
from measurements.pages.layout.tables import Table
from measurements.selectors.predictions.rows import BandChanceRow, IdentificationRow

LIKELY, UNLIKELY = 0.8, 0.5
SURE = 0.95  # beyond it, and below the rest of it, words: neither draws nor the model tell such chances finer

LIMITING_FACTORS = {"inductance": "short of inductance", "resonance": "above its resonance"}


@dataclass(frozen=True)
class Chance:
    """A chance: its words, its class of the stylesheet and its shape of the sprite."""

    said: str
    look: str
    shape: str


@dataclass(frozen=True)
class BandChanceLine:
    """One band of a prediction. limit: in words, empty where it is likely to meet."""

    band: str
    chance: Chance
    median: str
    range_db: str
    limit: str
    plot: Plot | None


def present_chance(share: float | None) -> Chance:
    """Express a chance in words; the ends are never certain, because the draws are few and the model is
    one.
    """
    if share is None:
        return Chance("cannot be said", "is-few", "shape-few")
    said = (
        "very likely"
        if share > SURE
        else "very unlikely"
        if share < 1 - SURE
        else figures.format_percent(share)
    )
    if share >= LIKELY:
        return Chance(said, "is-meets", "shape-meets")
    return Chance(said, *(("is-mixed", "shape-mixed") if share >= UNLIKELY else ("is-short", "shape-short")))


def present_band_chances(bands: Sequence[BandChanceRow], benchmark_db: float) -> list[BandChanceLine]:
    """Return the bands of a prediction."""
    return [_present_band_chance(band, benchmark_db) for band in bands]


def _present_band_chance(band: BandChanceRow, benchmark_db: float) -> BandChanceLine:
    low, median, high = (band.rejection_db[name] for name in ("p10", "median", "p90"))
    plot = None
    if low is not None and median is not None and high is not None:
        plot = Plot(
            benchmark=scale_to_plot(benchmark_db),
            median=scale_to_plot(median),
            low=scale_to_plot(low),
            span=max(scale_to_plot(high) - scale_to_plot(low), 1.0),
            words=f"eight in ten new devices between {low:.0f} and {high:.0f} dB, the middle one "
            f"{median:.0f} dB, "
            f"against a benchmark of {benchmark_db:g} dB",
        )
    return BandChanceLine(
        band=band.band,
        chance=present_chance(band.chance),
        median=figures.format_number(median, 0),
        range_db=figures.NO_VALUE
        if plot is None
        else f"{figures.format_number(low, 0)} to {figures.format_number(high, 0)}",
        limit=LIMITING_FACTORS.get(band.limit or "", ""),
        plot=plot,
    )


# The swept curve of an unmarked core beside the likeliest mixes, as the coordinates of a small drawing.
#
# The server stores nothing of the sweep, so the page carries its own chart.

WIDTH, HEIGHT = 640, 300

MIXES_DRAWN = 2  # mixes beside the sweep

TICKS_OHM = tuple(step * 10**decade for decade in range(6) for step in (1, 2, 5))


@dataclass(frozen=True)
class FitCurve:
    """A line of the drawing: its words, its class, its path."""

    label: str
    look: str
    path: str


@dataclass(frozen=True)
class FitPicture:
    """Curves and ticks (place, words) in the drawing's own units."""

    curves: tuple[FitCurve, ...]
    across: tuple[tuple[float, str], ...]
    upward: tuple[tuple[float, str], ...]
    words: str


def build_fit_picture(told: IdentificationRow) -> FitPicture:
    """Return |Z| over frequency, both logarithmic: the sweep and the two likeliest mixes as fitted."""
    given = [("as swept", told.impedance_ohm)]
    given += [(f"mix {each.mix}", each.impedance_ohm) for each in told.mixes[:MIXES_DRAWN]]
    values = [value for _, curve in given for value in curve if value > 0]
    x = _Scale(told.freq_hz[0], told.freq_hz[-1], WIDTH)
    # from one round figure to another, so that even a flat curve has two to be read by
    low = max((tick for tick in TICKS_OHM if tick <= min(values)), default=min(values))
    high = min((tick for tick in TICKS_OHM if tick >= max(values)), default=max(values))
    y = _Scale(low, high, HEIGHT)
    curves = tuple(
        FitCurve(label, f"fit-{index}", _write_path(told.freq_hz, curve, x, y))
        for index, (label, curve) in enumerate(given)
    )
    across = tuple((round(x.at(mhz * 1e6), 1), f"{mhz:g}") for mhz in LOG_TICKS_MHZ if x.holds(mhz * 1e6))
    upward = tuple((round(HEIGHT - y.at(ohm), 1), f"{ohm:,}") for ohm in TICKS_OHM if y.holds(ohm))
    names = " and ".join(label for label, _ in given[1:])
    return FitPicture(curves, across, upward, f"Impedance over frequency as swept, beside {names} as fitted.")


def build_fit_table(told: IdentificationRow) -> Table:
    """Return the same as figures."""
    step = max(1, len(told.freq_hz) // 20)
    heads = ("MHz", "As swept, ohm", *(f"Mix {each.mix}, ohm" for each in told.mixes[:MIXES_DRAWN]))
    rows = tuple(
        (
            figures.format_mhz(told.freq_hz[at]),
            figures.format_number(told.impedance_ohm[at], 0),
            *(figures.format_number(each.impedance_ohm[at], 0) for each in told.mixes[:MIXES_DRAWN]),
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


def _write_path(freq_hz: Sequence[float], values: Sequence[float], x: _Scale, y: _Scale) -> str:
    points = [
        f"{x.at(freq):.1f} {HEIGHT - y.at(max(value, y.low)):.1f}"
        for freq, value in zip(freq_hz, values, strict=True)
    ]
    return "M" + "L".join(points)
