"""The verdicts of thousands of designs at once, as arrays: what a list of designs is filtered by.

`band_verdict.judge` is the same computation for one design. Rows are devices, in any order; each
names its design by an index 0..D-1.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from measurements.verdict import decision_rule, tolerance_bound, wilson_interval

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class DesignVerdicts:
    """D designs, every array (D,). Figures are NaN where the verdict is `not_enough_devices`.

    code: index into `rule.VERDICTS`. devices, contributors, passing: counts of those that vote, exact
    also where they are too few: they may leave only through `disclosure.evidence_view`.
    share, share_low, share_high: 0..1. median, p10, p90, tolerance_low: dB of worst-in-band rejection;
    tolerance_low is NaN under five devices.
    """

    benchmark_db: float
    code: NDArray[np.int8]
    devices: IntArray
    contributors: IntArray
    passing: IntArray
    share: FloatArray
    share_low: FloatArray
    share_high: FloatArray
    median: FloatArray
    p10: FloatArray
    p90: FloatArray
    tolerance_low: FloatArray


@dataclass(frozen=True)
class Shares:
    """What counts alone give: arrays of the shape asked with; NaN where not enough devices."""

    code: NDArray[np.int8]
    share: FloatArray
    share_low: FloatArray
    share_high: FloatArray


def judge_counts(
    n: ArrayLike, k: ArrayLike, contributors: ArrayLike | None = None, min_contributors: int = 3
) -> Shares:
    """Verdict and shares of designs from counts: n devices of which k pass.

    contributors: distinct owners; left out, every device is taken to have an owner of its own.
    Raises ValueError unless 0 <= k <= n.
    """
    devices, passing = np.broadcast_arrays(np.asarray(n, dtype=np.int64), np.asarray(k, dtype=np.int64))
    code = decision_rule.compute_verdict_codes(
        devices, passing, devices if contributors is None else contributors, min_contributors
    )
    enough = code != decision_rule.NOT_ENOUGH
    low, high = wilson_interval.compute_wilson_intervals(passing, devices)
    share = np.divide(passing, devices, out=np.full(devices.shape, np.nan), where=devices > 0)
    return Shares(code, *(np.where(enough, value, np.nan) for value in (share, low, high)))


def judge_designs(
    worst_db: ArrayLike,
    design: ArrayLike,
    contributors: ArrayLike,
    benchmark_db: float = decision_rule.DEFAULT_BENCHMARK_DB,
    min_contributors: int = 3,
) -> DesignVerdicts:
    """Verdicts of D designs from one row per device.

    worst_db: (N,) worst-in-band rejection, dB; NaN where the device's sweep does not cover the band:
    it has no vote there. For several bands pass `band_verdict.worst_of_bands` of an (N, B) matrix.
    design: (N,) index 0..D-1. contributors: (D,) people behind the devices that vote, as
    `contributors.distinct` or `contributors.certain` counts them.
    Raises BenchnightError for a benchmark outside 10 to 40 dB, ValueError for rows that do not match.
    """
    benchmark_db = decision_rule.check_benchmark(benchmark_db)
    owners = np.atleast_1d(np.asarray(contributors, dtype=np.int64))
    values, group = _select_voting_rows(worst_db, design, owners.size)
    devices = np.bincount(group, minlength=owners.size)
    passing = np.bincount(group[values >= benchmark_db], minlength=owners.size)
    shares = judge_counts(devices, passing, owners, min_contributors)
    hidden = shares.code == decision_rule.NOT_ENOUGH
    figures = _compute_quantiles(values, group, devices, (0.5, 0.1, 0.9))
    figures.append(_compute_tolerance_low(values, group, devices))
    median, p10, p90, tolerance_low = (np.where(hidden, np.nan, figure) for figure in figures)
    return DesignVerdicts(
        benchmark_db=benchmark_db,
        code=shares.code,
        devices=devices,
        contributors=owners,
        passing=passing,
        share=shares.share,
        share_low=shares.share_low,
        share_high=shares.share_high,
        median=median,
        p10=p10,
        p90=p90,
        tolerance_low=tolerance_low,
    )


def _select_voting_rows(worst_db: ArrayLike, design: ArrayLike, designs: int) -> tuple[FloatArray, IntArray]:
    """The rows that have a vote: (values dB, design index), checked."""
    values, group = np.asarray(worst_db, dtype=np.float64), np.asarray(design, dtype=np.int64)
    if not values.shape == group.shape == (values.size,):
        raise ValueError("One value and one design per device.")
    if bool(np.any(np.isinf(values))):
        raise ValueError("An infinite rejection is not a measurement.")
    if bool(np.any((group < 0) | (group >= designs))):
        raise ValueError("A design index is out of range.")
    votes = ~np.isnan(values)
    return values[votes], group[votes]


def _compute_quantiles(
    values_db: FloatArray, group: IntArray, devices: IntArray, at: tuple[float, ...]
) -> list[FloatArray]:
    """For each quantile (D,) dB, linear between order statistics (numpy's default); NaN for no rows."""
    ordered = values_db[np.lexsort((values_db, group))]
    starts = np.cumsum(devices) - devices
    filled = devices > 0
    results = []
    for quantile in at:
        result = np.full(devices.shape, np.nan)
        position = (devices[filled] - 1) * quantile
        below = np.floor(position).astype(np.int64)
        above = np.minimum(below + 1, devices[filled] - 1)
        low, high = ordered[starts[filled] + below], ordered[starts[filled] + above]
        result[filled] = low + (position - below) * (high - low)
        results.append(result)
    return results


def _compute_tolerance_low(values_db: FloatArray, group: IntArray, devices: IntArray) -> FloatArray:
    """(D,) lower tolerance bound in dB, NaN under `tolerance.MIN_DEVICES`."""
    result = np.full(devices.shape, np.nan)
    enough = devices >= tolerance_bound.MIN_DEVICES
    count = np.where(enough, devices, 1)
    mean = np.bincount(group, values_db, devices.size) / count
    # Two passes: squares minus squared mean would lose the small spread of like devices.
    squares = np.bincount(group, (values_db - mean[group]) ** 2, devices.size)
    sizes, which = np.unique(devices[enough], return_inverse=True)
    factors = np.array([tolerance_bound.compute_tolerance_factor(int(size)) for size in sizes])[which]
    spread = np.sqrt(squares[enough] / (devices[enough] - 1))
    result[enough] = mean[enough] - factors * spread
    return result
