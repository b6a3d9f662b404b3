"""Predictions as a reader meets them: a chance in words, and a small picture's coordinates for each band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from measurements.pages import figures
from measurements.pages.standing import Plot, across
from measurements.queries.rows_of_predictions import BandChanceRow

LIKELY, UNLIKELY = 0.8, 0.5
LIMITS = {"inductance": "short of inductance", "resonance": "above its resonance"}


@dataclass(frozen=True)
class Chance:
    """A chance: how it is said, and its class of the stylesheet and shape of the sprite."""

    said: str
    look: str
    shape: str


@dataclass(frozen=True)
class BandLine:
    """One band of a prediction. limit: in words, empty where it is likely to meet."""

    band: str
    chance: Chance
    median: str
    range_db: str
    limit: str
    plot: Plot | None


def chance(share: float | None) -> Chance:
    """How likely in words; the ends are never certain, because the draws are few and the model is one."""
    if share is None:
        return Chance("cannot be said", "is-few", "shape-few")
    said = "over 99 %" if share > 0.99 else "under 1 %" if share < 0.01 else figures.percent(share)
    if share >= LIKELY:
        return Chance(said, "is-meets", "shape-meets")
    return Chance(said, *(("is-mixed", "shape-mixed") if share >= UNLIKELY else ("is-short", "shape-short")))


def lines(bands: Sequence[BandChanceRow], benchmark_db: float) -> list[BandLine]:
    """The bands of a prediction."""
    return [_line(band, benchmark_db) for band in bands]


def _line(band: BandChanceRow, benchmark_db: float) -> BandLine:
    low, median, high = (band.rejection_db[name] for name in ("p10", "median", "p90"))
    plot = None
    if low is not None and median is not None and high is not None:
        plot = Plot(
            benchmark=across(benchmark_db),
            median=across(median),
            low=across(low),
            span=max(across(high) - across(low), 1.0),
            words=f"eight in ten new devices between {low:.0f} and {high:.0f} dB, the middle one "
            f"{median:.0f} dB, "
            f"against a benchmark of {benchmark_db:g} dB",
        )
    return BandLine(
        band=band.band,
        chance=chance(band.chance),
        median=figures.plain(median, 0),
        range_db=figures.NONE if plot is None else f"{figures.plain(low, 0)} to {figures.plain(high, 0)}",
        limit=LIMITS.get(band.limit or "", ""),
        plot=plot,
    )
