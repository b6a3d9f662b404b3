"""One design's evidence on a band, as one circle may see it: the contract's object and nothing more.

The room `verdict` computes with exact figures; this is the only door through which they leave.
"""

from __future__ import annotations

from typing import Any, Protocol

from measurements.disclosure.circles import Circle
from measurements.disclosure.rounding import coarse_count as coarse_count
from measurements.disclosure.rounding import coarse_db as coarse_db
from measurements.disclosure.rounding import count_band as count_band
from measurements.disclosure.rounding import round_db
from measurements.disclosure.thresholds import Thresholds

NOT_ENOUGH = "not_enough_devices"


class Judged(Protocol):
    """What is needed of a verdict (`measurements.verdict.band_verdict.Verdict` is one)."""

    @property
    def verdict(self) -> str: ...
    @property
    def devices(self) -> int: ...
    @property
    def contributors(self) -> int: ...
    @property
    def passing(self) -> int | None: ...
    @property
    def share(self) -> float | None: ...
    @property
    def share_low(self) -> float | None: ...
    @property
    def share_high(self) -> float | None: ...
    @property
    def median(self) -> float | None: ...
    @property
    def p10(self) -> float | None: ...
    @property
    def p90(self) -> float | None: ...
    @property
    def tolerance_low(self) -> float | None: ...


def shown(
    verdict: Judged | None,
    *,
    band: str | None,
    benchmark_db: float,
    circle: Circle,
    thresholds: Thresholds,
) -> dict[str, Any]:
    """The evidence object of the contract for one reader's circle.

    verdict: None where the release holds nothing of the design. band: None over several bands jointly.
    Under the circle's threshold every figure and every count is null: that a design has one device
    is as much as saying who has it. Members see exact figures; the public sees the verdict, counts as
    bands and the median and tolerance bound in steps of 0.5 dB, no shares, no percentiles.
    """
    head = {"band": band, "benchmark_db": benchmark_db}
    least = least_contributors(circle, thresholds)
    if verdict is None or verdict.verdict == NOT_ENOUGH or verdict.contributors < least:
        return head | _nothing()
    return head | (_exact(verdict) if circle == "members" else _coarse(verdict))


def least_contributors(circle: Circle, thresholds: Thresholds) -> int:
    """Contributors behind a figure before this circle sees it."""
    return thresholds.min_contributors if circle == "members" else thresholds.public_min_contributors


def _exact(verdict: Judged) -> dict[str, Any]:
    return {
        "verdict": verdict.verdict,
        "devices": verdict.devices,
        "contributors": verdict.contributors,
        "passing": verdict.passing,
        "share": verdict.share,
        "share_low": verdict.share_low,
        "share_high": verdict.share_high,
        "rejection_db": {
            "median": verdict.median,
            "p10": verdict.p10,
            "p90": verdict.p90,
            "tolerance_low": verdict.tolerance_low,
        },
    }


def _coarse(verdict: Judged) -> dict[str, Any]:
    return {
        "verdict": verdict.verdict,
        "devices": count_band(verdict.devices),
        "contributors": count_band(verdict.contributors),
        "passing": None,
        "share": None,
        "share_low": None,
        "share_high": None,
        "rejection_db": {
            "median": round_db(verdict.median),
            "p10": None,
            "p90": None,
            "tolerance_low": round_db(verdict.tolerance_low),
        },
    }


def _nothing() -> dict[str, Any]:
    counts = dict.fromkeys(("devices", "contributors", "passing", "share", "share_low", "share_high"))
    figures = dict.fromkeys(("median", "p10", "p90", "tolerance_low"))
    return {"verdict": NOT_ENOUGH, **counts, "rejection_db": figures}
