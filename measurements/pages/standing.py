"""Evidence as a reader meets it: a word, a shape, a count, and a small picture's coordinates."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from measurements.pages import figures
from measurements.pages.words import VERDICTS, Said

PLOT_WIDTH = 160
PLOT_TOP_DB = 45.0  # the right end of the small picture


@dataclass(frozen=True)
class Plot:
    """Where things stand in the small picture, in its own units from 0 to PLOT_WIDTH; None: not shown."""

    benchmark: float
    median: float
    low: float | None
    span: float | None
    words: str


@dataclass(frozen=True)
class Standing:
    """One band of a design, or all bands asked together (band is then empty)."""

    band: str
    said: Said
    count: str
    devices: str
    median: str
    share: str
    range_db: str
    tolerance: str
    plot: Plot | None


def of(evidence: dict[str, Any]) -> Standing:
    """The standing of one evidence object (contract, evidence of a design on a band)."""
    rejection = evidence.get("rejection_db") or {}
    low, high = evidence.get("share_low"), evidence.get("share_high")
    p10, p90 = rejection.get("p10"), rejection.get("p90")
    return Standing(
        band=evidence.get("band") or "",
        said=VERDICTS[evidence["verdict"]],
        count=count(evidence),
        devices=_devices(evidence.get("devices")),
        median=figures.plain(rejection.get("median")),
        share=figures.NONE if low is None else f"{figures.percent(low)} to {figures.percent(high)}",
        range_db=figures.NONE if p10 is None else f"{figures.plain(p10)} to {figures.plain(p90)}",
        tolerance=figures.plain(rejection.get("tolerance_low")),
        plot=_plot(evidence, rejection),
    )


def count(evidence: dict[str, Any]) -> str:
    """How many devices, and how many of them pass, as far as the reader may know."""
    devices, passing = evidence.get("devices"), evidence.get("passing")
    if devices in (None, 0, "0"):
        return "no devices shown yet" if devices is None else "no devices yet"
    if passing is None or evidence["verdict"] == "not_enough_devices":
        return _devices(devices)
    return f"{passing} of {_devices(devices)} pass{'es' if devices == 1 else ''}"


def _devices(devices: int | str | None) -> str:
    """A number of devices, or a range of it, with its noun."""
    if devices is None:
        return figures.NONE
    return f"{devices} device{'' if devices == 1 else 's'}".replace("-", "–")


def _plot(evidence: dict[str, Any], rejection: dict[str, Any]) -> Plot | None:
    median = rejection.get("median")
    if median is None:
        return None
    p10, p90 = rejection.get("p10"), rejection.get("p90")
    low = None if p10 is None else across(p10)
    words = f"median {figures.plain(median)} dB against a benchmark of {evidence['benchmark_db']:g} dB"
    if p10 is not None:
        words += f", eight in ten devices between {figures.plain(p10)} and {figures.plain(p90)} dB"
    return Plot(
        benchmark=across(evidence["benchmark_db"]),
        median=across(median),
        low=low,
        span=None if low is None else max(across(p90) - low, 1.0),
        words=words,
    )


def across(value_db: float) -> float:
    """Decibels to the picture's units; what lies beyond its ends is drawn at the end."""
    return round(min(max(value_db / PLOT_TOP_DB, 0.0), 1.0) * PLOT_WIDTH, 1)
