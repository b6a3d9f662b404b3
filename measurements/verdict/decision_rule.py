"""In which order designs are offered: by what the evidence supports, never by the best single device.

Verdict first, then the lower bound of the share that passes (so that 20 of 20 goes before 3 of 3), then
how far the median lies above the benchmark. Equal designs keep the order of their keys, so that two
runs and two pages agree.

Whoever lists designs for the public passes the coarsened figures of `disclosure.evidence_view`: an
order by exact shares would give away the shares.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from measurements.errors import BenchnightError
from measurements.verdict import wilson_interval

# The rule that turns counts into one of four verdicts, and the benchmark they are held against.
#
# `typically_meets`        k/n >= 0.8 and the lower Wilson bound >= 0.5
# `typically_falls_short`  the upper Wilson bound <= 0.5
# `not_enough_devices`     fewer than 3 devices, or fewer contributors than the threshold
# `mixed`                  everything else
#
# House default; both bounds are one-sided at 90 %.

VerdictName = Literal["typically_meets", "mixed", "typically_falls_short", "not_enough_devices"]

# Best first: the order in which designs are listed, and the codes of `verdict_codes`.
VERDICTS: tuple[VerdictName, ...] = (
    "typically_meets",
    "mixed",
    "typically_falls_short",
    "not_enough_devices",
)

MEETS, MIXED, FALLS_SHORT, NOT_ENOUGH = range(4)

MIN_DEVICES = 3

DEFAULT_BENCHMARK_DB = 20.0  # common practice

BENCHMARK_RANGE_DB = (10.0, 40.0)


def check_benchmark(benchmark_db: float) -> float:
    """The benchmark itself, or BenchnightError `benchmark.out_of_range` outside 10 to 40 dB."""
    low_db, high_db = BENCHMARK_RANGE_DB
    if not low_db <= benchmark_db <= high_db:  # also refuses NaN
        raise BenchnightError(
            "benchmark.out_of_range",
            f"Choose a benchmark between {low_db:g} and {high_db:g} dB; usual is "
            f"{DEFAULT_BENCHMARK_DB:g} dB.",
            field="benchmark_db",
        )
    return float(benchmark_db)


def compute_verdict_codes(
    n: ArrayLike, k: ArrayLike, contributors: ArrayLike, min_contributors: int = 3
) -> NDArray[np.int8]:
    """Index into `VERDICTS` for each design.

    n, k, contributors: whole numbers, shapes that broadcast: devices, devices that pass, and
    distinct owners of those devices. ValueError unless 0 <= k <= n.
    """
    devices, passing, owners = np.broadcast_arrays(
        np.asarray(n, dtype=np.int64), np.asarray(k, dtype=np.int64), np.asarray(contributors, dtype=np.int64)
    )
    low, high = wilson_interval.compute_wilson_intervals(passing, devices)
    codes = np.full(devices.shape, MIXED, dtype=np.int8)
    codes[high <= 0.5] = FALLS_SHORT
    # In whole numbers, so that 4 of 5 is exactly four fifths.
    codes[(low >= 0.5) & (5 * passing >= 4 * devices)] = MEETS
    codes[(devices < MIN_DEVICES) | (owners < min_contributors)] = NOT_ENOUGH
    return codes


@dataclass(frozen=True)
class RankedDesign:
    """One design as it is ranked: key settles ties; figures are None where they are not shown."""

    key: str
    verdict: VerdictName
    share_low: float | None
    median_margin_db: float | None


def rank_designs(standings: Sequence[RankedDesign]) -> list[RankedDesign]:
    """Best supported first. A figure that is not shown goes after every figure that is."""
    return sorted(standings, key=_compute_rank_key)


def _compute_rank_key(standing: RankedDesign) -> tuple[int, float, float, str]:
    return (
        VERDICTS.index(standing.verdict),
        _sort_descending(standing.share_low),
        _sort_descending(standing.median_margin_db),
        standing.key,
    )


def _sort_descending(figure: float | None) -> float:
    return float("inf") if figure is None else -figure
