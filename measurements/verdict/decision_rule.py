"""The rule that turns the chance of a new build into one of four verdicts, and the benchmark behind it.

`typically_meets`        the chance that a new build of somebody else passes is 0.8 or more
`typically_falls_short`  it is 0.2 or less
`not_enough_devices`     fewer than three persons, or fewer than the reader's circle needs
`mixed`                  everything between

Until the group knows how far its designs spread, the chance comes from Student's t distribution, and the
bounds are 0.81 and 0.19: at three persons a design of which half the builds fail then passes for meeting
in 7.8 % of cases. House default; `tests/verdict/test_verdict_frequencies.py` counts how often each is wrong.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from measurements.errors import BenchnightError
from measurements.verdict.metric import REJECTION, Metric

VerdictName = Literal["typically_meets", "mixed", "typically_falls_short", "not_enough_devices"]

# Best first: the order in which designs are listed, and the codes of `compute_verdict_codes`.
VERDICTS: tuple[VerdictName, ...] = (
    "typically_meets",
    "mixed",
    "typically_falls_short",
    "not_enough_devices",
)

MEETS, MIXED, FALLS_SHORT, NOT_ENOUGH = range(4)

MEETS_FROM, FALLS_SHORT_TO = 0.8, 0.2
MEETS_FROM_WITHOUT_PRIOR, FALLS_SHORT_TO_WITHOUT_PRIOR = 0.81, 0.19

DEFAULT_BENCHMARK_DB = 20.0  # common practice

BENCHMARK_RANGE_DB = (10.0, 40.0)


# metric -> bounds of a limit, the usual one (common practice; house defaults), its unit and what it is called
_LIMIT_RULES = {
    "rejection_db": (BENCHMARK_RANGE_DB, DEFAULT_BENCHMARK_DB, " dB", "benchmark"),
    "loss_db": ((0.01, 10.0), 0.5, " dB", "limit"),
    "swr": ((1.01, 10.0), 1.5, "", "limit"),
}


def check_limit(metric: Metric, limit: float) -> float:
    """Return the limit itself, or BenchnightError `benchmark.out_of_range` or `limit.out_of_range`.

    limit: in the unit of the metric; rejection 10 to 40 dB, loss 0.01 to 10 dB, SWR 1.01 to 10.
    """
    (low, high), usual, unit, name = _LIMIT_RULES[metric.name]
    if not low <= limit <= high:  # also refuses NaN
        raise BenchnightError(
            f"{name}.out_of_range",
            f"Choose a {name} between {low:g} and {high:g}{unit}; usual is {usual:g}{unit}.",
            field="benchmark_db" if name == "benchmark" else "limit",
        )
    return float(limit)


def check_benchmark(benchmark_db: float) -> float:
    """Return the benchmark itself, or BenchnightError `benchmark.out_of_range` outside 10 to 40 dB."""
    return check_limit(REJECTION, benchmark_db)


def compute_verdict_codes(
    chance: ArrayLike, persons: ArrayLike, min_contributors: int = 3, *, with_prior: bool = True
) -> NDArray[np.int8]:
    """Give the index into `VERDICTS` of each design.

    chance: 0..1, NaN where there are too few persons for one. persons: behind the voting devices.
    with_prior: whether the chance rests on the group's usual spread.
    """
    passes, people = np.broadcast_arrays(np.asarray(chance, dtype=np.float64), np.asarray(persons))
    meets_from, falls_short_to = (
        (MEETS_FROM, FALLS_SHORT_TO)
        if with_prior
        else (MEETS_FROM_WITHOUT_PRIOR, FALLS_SHORT_TO_WITHOUT_PRIOR)
    )
    codes = np.full(passes.shape, MIXED, dtype=np.int8)
    codes[passes >= meets_from] = MEETS
    codes[passes <= falls_short_to] = FALLS_SHORT
    codes[np.isnan(passes) | (people < min_contributors)] = NOT_ENOUGH
    return codes
