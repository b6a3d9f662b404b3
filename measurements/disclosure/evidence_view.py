"""One design's evidence on a band, as one circle may see it: the contract's object and nothing more.

The room `verdict` computes with exact figures; this is the only door through which they leave.
"""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.viewers import Circle

# How coarsely the public sees: decibels in steps of 0.5, counts as bands.
#
# At five devices a mean rounded to 0.1 dB beside an exact count gives a newcomer's figure to 0.16 dB; in
# steps of 0.5 dB, with counts as bands, the same subtraction gives no more than a guess would.

PUBLIC_STEP_DB = 0.5

_COUNT_MANTISSAS = (1, 2, 5)


def coarsen_db(values_db: ArrayLike) -> NDArray[np.float64]:
    """Return values in dB to the nearest 0.5 dB, any shape; NaN stays NaN.

    A value exactly between two steps goes to the even number of steps (22.25 to 22.0, 22.75 to 23.0), so
    that ties are not pushed upwards, as a benchmark's friends would like. Doubling and halving are
    exact in binary, so nothing is rounded twice. Raises ValueError for an infinite value.
    """
    values = np.asarray(values_db, dtype=np.float64)
    if bool(np.any(np.isinf(values))):
        raise ValueError("An infinite value cannot be rounded.")
    # + 0.0 turns a negative zero into a plain one.
    rounded: NDArray[np.float64] = np.round(values / PUBLIC_STEP_DB) * PUBLIC_STEP_DB + 0.0
    return rounded


def round_db(value_db: float | None) -> float | None:
    """Return one figure as `coarse_db`; None stays None."""
    return None if value_db is None else float(coarsen_db(value_db))


def coarsen_counts(counts: ArrayLike) -> NDArray[np.int64]:
    """Give the lower end of each count's band, any shape: what public lists are ordered by; 0 stays 0.

    Bands begin at 1, 2, 5, 10, 20, 50, 100 and so on. Raises ValueError for a negative count.
    """
    whole = np.asarray(counts, dtype=np.int64)
    if bool(np.any(whole < 0)):
        raise ValueError("A count is not negative.")
    most = int(whole.max(initial=1))
    starts = np.array([0, *_list_count_starts(most)], dtype=np.int64)
    found: NDArray[np.int64] = starts[np.searchsorted(starts, whole, side="right") - 1]
    return found


def format_count_band(count: int) -> str:
    """Format a count as the public sees it: "5-9", "10-19", "20-49", "50-99", "100-199" and so on.

    Raises ValueError under 2: a band of one says that there is one.
    """
    if count < 2:
        raise ValueError("A count under two is not shown, not even as a band.")
    starts = _list_count_starts(count * 10)
    place = next(index for index, start in enumerate(starts) if start > count)
    return f"{starts[place - 1]}-{starts[place] - 1}"


def _list_count_starts(most: int) -> list[int]:
    """Return 1, 2, 5, 10, 20, 50 ... up to `most` and no further."""
    decades = range(len(str(most)))
    return [m * 10**d for d in decades for m in _COUNT_MANTISSAS if m * 10**d <= most]


NOT_ENOUGH = "not_enough_devices"

# From so many persons on a chance has two decimals, and one against another benchmark than the group's own
# is given: before, chances against many benchmarks would give away the figures.
DETAIL_MIN_CONTRIBUTORS = 10


def round_chances(
    chances: ArrayLike, verdicts: ArrayLike, persons: ArrayLike, *, circle: Circle, at_house_benchmark: bool
) -> NDArray[np.float64]:
    """Round chances (0..1) as one circle may see them, any shape; NaN stays, or hides one.

    verdicts: their names. persons: behind each. In tenths below ten persons and for the public, else in
    hundredths. Neither 0 nor 1 is shown, which no number of devices supports; and a chance between is never
    rounded onto the bound of a verdict that it does not reach.
    """
    exact, people = np.asarray(chances, dtype=np.float64), np.asarray(persons)
    detailed = people >= DETAIL_MIN_CONTRIBUTORS
    steps = np.where(detailed & (circle == "members"), 100.0, 10.0)
    least = np.where(np.asarray(verdicts) == "mixed", 0.2 * steps + 1, 1.0)
    rounded: NDArray[np.float64] = np.clip(np.round(exact * steps), least, steps - least) / steps
    return np.where(detailed | at_house_benchmark, rounded, np.nan)


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
    def p90(self) -> float | None: ...
    @property
    def tolerance_low(self) -> float | None: ...


def build_evidence_view(
    verdict: VerdictFigures | None,
    *,
    band: str | None,
    benchmark_db: float,
    circle: Circle,
    thresholds: Thresholds,
    house_benchmark_db: float | None = None,
) -> dict[str, Any]:
    """Build the evidence object of the contract for one reader's circle.

    house_benchmark_db: the group's own; None where `benchmark_db` is that.

    verdict: None where the release holds nothing of the design. band: None over several bands jointly.
    Under the circle's threshold every figure and every count is null: that a design has one device
    is as much as saying who has it. Members see exact figures; the public sees the verdict, counts as
    bands, the chance in tenths and the median and tolerance bound in steps of 0.5 dB, no shares, no
    percentiles.
    """
    head = {"band": band, "benchmark_db": benchmark_db}
    at_house = house_benchmark_db in (None, benchmark_db)
    least = get_min_contributors(circle, thresholds, at_house_benchmark=at_house)
    if verdict is None or verdict.verdict == NOT_ENOUGH or verdict.contributors < least:
        return head | _build_empty_figures()
    chance = round_chances(
        np.nan if verdict.chance is None else verdict.chance,
        verdict.verdict,
        verdict.contributors,
        circle=circle,
        at_house_benchmark=at_house,
    )
    figures = _build_exact_figures(verdict) if circle == "members" else _build_coarse_figures(verdict)
    return head | {"chance": None if np.isnan(chance) else float(chance)} | figures


def get_min_contributors(circle: Circle, thresholds: Thresholds, *, at_house_benchmark: bool = True) -> int:
    """Return contributors behind a figure before this circle sees it.

    The public asks about another benchmark than the house's from ten persons on: whoever tried one benchmark
    after the other would else find where a verdict flips, and so single figures.
    """
    if circle == "members":
        return thresholds.min_contributors
    least = thresholds.public_min_contributors
    return least if at_house_benchmark else max(least, DETAIL_MIN_CONTRIBUTORS)


def _build_exact_figures(verdict: VerdictFigures) -> dict[str, Any]:
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


def _build_coarse_figures(verdict: VerdictFigures) -> dict[str, Any]:
    return {
        "verdict": verdict.verdict,
        "devices": format_count_band(verdict.devices),
        "contributors": format_count_band(verdict.contributors),
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


def _build_empty_figures() -> dict[str, Any]:
    counts = dict.fromkeys(
        ("chance", "devices", "contributors", "passing", "share", "share_low", "share_high")
    )
    figures = dict.fromkeys(("median", "p10", "p90", "tolerance_low"))
    return {"verdict": NOT_ENOUGH, **counts, "rejection_db": figures}
