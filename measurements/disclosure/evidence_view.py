"""One design's evidence on a band, as one circle may see it: the contract's object and nothing more.

The room `verdict` computes with exact figures; this is the only door through which they leave. Members see
figures from `min_contributors` persons on, the public the same from `public_min_contributors` on with counts
as bands. Percentiles, shares, the histogram, the tolerance bound and other benchmarks than the group's begin
at `detail_min_contributors`, for both.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from measurements.disclosure.rounding import format_count_band, get_step, round_figure
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.viewers import Circle

# of the public's figures that are no metric of a band: repeatability, steps of the benchmark
PUBLIC_STEP_DB = 0.5
# metric -> step of a limit that the public may ask for: finer ones would give single figures away by trying
PUBLIC_LIMIT_STEPS = {"rejection_db": PUBLIC_STEP_DB, "loss_db": 0.05, "swr": 0.05}

NOT_ENOUGH = "not_enough_devices"

# kind of test -> the metric that it is judged by
METRICS: dict[str, str] = {
    "common_mode": "rejection_db",
    "insertion_loss": "loss_db",
    "load_match": "swr",
}

# the kind whose limit is a benchmark, and the bound of which is one from below
BENCHMARK_KIND = "common_mode"

COUNTS = ("devices", "contributors", "passing")
SHARES = ("share", "share_low", "share_high")
PERCENTILES = ("p10", "p25", "p75", "p90")


def round_chances(
    chances: ArrayLike,
    verdicts: ArrayLike,
    persons: ArrayLike,
    *,
    circle: Circle,
    thresholds: Thresholds,
    at_house_benchmark: bool,
) -> NDArray[np.float64]:
    """Round chances (0..1) as one circle may see them, any shape; NaN stays, or hides one.

    verdicts: their names. persons: behind each. In tenths below ten persons and for the public, else in
    hundredths. Neither 0 nor 1 is shown, which no number of devices supports; and a chance between is never
    rounded onto the bound of a verdict that it does not reach.
    """
    exact = np.asarray(chances, dtype=np.float64)
    detailed = has_detail(persons, thresholds)
    steps = np.where(detailed & (circle == "members"), 100.0, 10.0)
    least = np.where(np.asarray(verdicts) == "mixed", 0.2 * steps + 1, 1.0)
    rounded: NDArray[np.float64] = np.clip(np.round(exact * steps), least, steps - least) / steps
    return np.where(detailed | at_house_benchmark, rounded, np.nan)


def has_detail(persons: ArrayLike, thresholds: Thresholds) -> NDArray[np.bool_]:
    """Tell, any shape, whether so many persons are enough for detail."""
    found: NDArray[np.bool_] = np.asarray(persons) >= thresholds.detail_min_contributors
    return found


def get_min_contributors(circle: Circle, thresholds: Thresholds) -> int:
    """Give how many persons stand behind a figure before this circle sees it."""
    return thresholds.min_contributors if circle == "members" else thresholds.public_min_contributors


class VerdictFigures(Protocol):
    """What is needed of a verdict (`measurements.verdict.band_verdict.Verdict` is one)."""

    @property
    def verdict(self) -> str: ...
    @property
    def devices(self) -> int: ...
    @property
    def contributors(self) -> int: ...
    @property
    def chance(self) -> float | None: ...
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
    def p25(self) -> float | None: ...
    @property
    def p75(self) -> float | None: ...
    @property
    def p90(self) -> float | None: ...
    @property
    def tolerance_low(self) -> float | None: ...


class HistogramBin(Protocol):
    """What is needed of a bin (`measurements.verdict.histogram.Bin` is one)."""

    @property
    def low(self) -> float | None: ...
    @property
    def high(self) -> float | None: ...
    @property
    def devices(self) -> int: ...


def build_evidence_view(
    verdict: VerdictFigures | None,
    *,
    band: str | None,
    limit: float,
    circle: Circle,
    thresholds: Thresholds,
    house_limit: float | None = None,
    kind: str = BENCHMARK_KIND,
    histogram: Sequence[HistogramBin] | None = None,
) -> dict[str, Any]:
    """Build the evidence object of the contract for one reader's circle.

    kind: of the tests behind the verdict. limit: that it was held against, in the unit of the kind's metric;
    house_limit: the group's own, None where `limit` is that. histogram: of the same figures, bins of three
    persons or more; shown with the rest of the detail.

    verdict: None where the release holds nothing of the design. band: None over several bands jointly.
    Under the circle's threshold every figure and every count is null: that a design has one device
    is as much as saying who has it. Another benchmark below ten persons gets counts and the median, no
    verdict, and a reason.
    """
    is_benchmark = kind == BENCHMARK_KIND
    head = {
        "band": band,
        "kind": kind,
        "benchmark_db": limit if is_benchmark else None,
        "limit": None if is_benchmark else limit,
    }
    if (
        verdict is None
        or verdict.verdict == NOT_ENOUGH
        or verdict.contributors < get_min_contributors(circle, thresholds)
    ):
        return head | _build_empty_figures(kind)
    detailed = bool(has_detail(verdict.contributors, thresholds))
    answered = detailed or house_limit in (None, limit)
    judged = {
        "chance": _round_chance(verdict, circle, thresholds) if answered else None,
        "verdict": verdict.verdict if answered else None,
        "reason": None if answered else describe_no_verdict(thresholds, kind),
    }
    return head | judged | _build_figures(verdict, kind, circle, detailed, histogram)


def describe_no_verdict(thresholds: Thresholds, kind: str = BENCHMARK_KIND) -> str:
    """Say why a question about another benchmark or limit has no verdict."""
    name = "benchmark" if kind == BENCHMARK_KIND else "limit"
    return (
        f"Another {name} than the group's is answered from "
        f"{thresholds.detail_min_contributors} people on. Hold the median against it."
    )


def _round_chance(verdict: VerdictFigures, circle: Circle, thresholds: Thresholds) -> float | None:
    if verdict.chance is None:
        return None
    rounded = round_chances(
        verdict.chance,
        verdict.verdict,
        verdict.contributors,
        circle=circle,
        thresholds=thresholds,
        at_house_benchmark=True,  # the caller has asked whether there is an answer
    )
    return float(rounded)


def _build_figures(
    verdict: VerdictFigures,
    kind: str,
    circle: Circle,
    detailed: bool,
    histogram: Sequence[HistogramBin] | None,
) -> dict[str, Any]:
    metric = METRICS[kind]
    figures: dict[str, Any] = {"median": round_figure(verdict.median, metric, detailed=detailed)}
    for name in PERCENTILES:
        figures[name] = round_figure(getattr(verdict, name), metric, detailed=True) if detailed else None
    bound = round_figure(verdict.tolerance_low, metric, detailed=True) if detailed else None
    figures |= dict.fromkeys(list_bounds(kind)) | {list_bounds(kind)[-1]: bound}
    figures["histogram"] = _build_bins(histogram, circle) if detailed and histogram else None
    return {
        "devices": _show_count(verdict.devices, circle),
        "contributors": _show_count(verdict.contributors, circle),
        # beside a band of counts, an exact number of devices that pass would be a finer one
        "passing": verdict.passing if detailed and circle == "members" else None,
        **{name: _show_share(getattr(verdict, name), circle) if detailed else None for name in SHARES},
        metric: figures,
    }


def list_bounds(kind: str) -> tuple[str, ...]:
    """List the tolerance bounds of a kind's metric, the one that is shown last.

    Less loss and less SWR is better, so their bound is an upper one; `tolerance_low` of these is null.
    """
    return ("tolerance_low",) if kind == BENCHMARK_KIND else ("tolerance_low", "tolerance_high")


def _build_bins(histogram: Sequence[HistogramBin], circle: Circle) -> list[dict[str, Any]]:
    return [
        {"from": each.low, "to": each.high, "devices": _show_count(each.devices, circle)}
        for each in histogram
    ]


def _show_count(count: int, circle: Circle) -> int | str:
    return count if circle == "members" else format_count_band(count)


def _show_share(share: float | None, circle: Circle) -> float | None:
    """Give a share in hundredths, to the public in tenths: finer ones are fractions of a count."""
    return None if share is None else round(share, 2 if circle == "members" else 1)


def _build_empty_figures(kind: str) -> dict[str, Any]:
    judged = {"chance": None, "verdict": NOT_ENOUGH, "reason": None}
    nothing = dict.fromkeys((*COUNTS, *SHARES))
    figures = dict.fromkeys(("median", *PERCENTILES, *list_bounds(kind), "histogram"))
    return {**judged, **nothing, METRICS[kind]: figures}


def get_histogram_step(kind: str) -> float:
    """Give the width that edges of a histogram of this kind are multiples of: two of its finer steps."""
    return 2 * get_step(METRICS[kind], detailed=True)
