"""How well a group repeats a measurement: the yardstick that a device's change is held against.

Repeats are tests of one device, of one kind and method, made within `REPEAT_WITHIN_DAYS` of the first of
them. Their standard deviations are pooled over all devices, each weighted with its degrees of freedom (the
repeatability standard deviation of ISO 5725-2; the same number is the within-group mean square of a one-way
analysis of variance). A difference of two single tests is real at 95 % when it is larger than
t(0.975, degrees of freedom) * sqrt(2) * s, which tends to the 2.8 s of ISO 5725-6 as repeats grow many.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
from scipy import special

REPEAT_WITHIN_DAYS = 2  # house default: long enough for a weekend at the bench, too short for weather to work
LEAST_DOF = 5  # house default: the upper 95 % bound on s is then 2.1 s, and with fewer it grows fast
CONFIDENCE = 0.95
PUBLISHED_STEP_DB = 0.5  # house default


@dataclass(frozen=True)
class PooledDeviation:
    """sd: in the unit of the values. dof: degrees of freedom. devices: how many were repeated."""

    sd: float
    dof: int
    devices: int

    @property
    def enough(self) -> bool:
        return self.dof >= LEAST_DOF


def pool_deviations(groups: Iterable[Sequence[float]]) -> PooledDeviation | None:
    """Return the pooled standard deviation of groups of repeats; None where no group has two values.

    Raises ValueError for a value that is not finite.
    """
    squares, dof, devices = 0.0, 0, 0
    for group in groups:
        values = np.asarray(group, dtype=np.float64)
        if not np.all(np.isfinite(values)):
            raise ValueError("A repeat is a finite value.")
        if values.size < 2:
            continue
        squares += float(np.sum((values - values.mean()) ** 2))
        dof += values.size - 1
        devices += 1
    return PooledDeviation(math.sqrt(squares / dof), dof, devices) if dof else None


def compute_smallest_real_change(pooled: PooledDeviation) -> float:
    """Return the difference of two single tests beyond which repeating alone does not explain it (95 %)."""
    quantile = float(special.stdtrit(pooled.dof, (1 + CONFIDENCE) / 2))
    return quantile * math.sqrt(2) * pooled.sd


def round_up_deviation(sd_db: float) -> float:
    """Round a pooled standard deviation up to the next half decibel, as it leaves to others.

    An exact figure would show one person's spread to whoever knows the other repeats.
    """
    return math.ceil(sd_db / PUBLISHED_STEP_DB) * PUBLISHED_STEP_DB


def group_repeats(
    tests: Iterable[tuple[Hashable, date, Mapping[str, float]]],
) -> dict[str, list[list[float]]]:
    """Group of repeats per band, out of (what has to be equal, day, band -> value).

    Every test falls into one group: a group begins with a test and takes those of the next
    `REPEAT_WITHIN_DAYS` days. Groups of one are left out.
    """
    alike: dict[Hashable, list[tuple[date, Mapping[str, float]]]] = {}
    for same, day, values in tests:
        alike.setdefault(same, []).append((day, values))
    found: dict[str, list[list[float]]] = {}
    for rows in alike.values():
        for group in _group_by_days(sorted(rows, key=lambda row: row[0])):
            for band in {name for values in group for name in values}:
                column = [values[band] for values in group if band in values]
                if len(column) > 1:
                    found.setdefault(band, []).append(column)
    return found


def _group_by_days(rows: list[tuple[date, Mapping[str, float]]]) -> list[list[Mapping[str, float]]]:
    groups: list[list[Mapping[str, float]]] = []
    begun = None
    for day, values in rows:
        if begun is None or (day - begun).days > REPEAT_WITHIN_DAYS:
            groups.append([])
            begun = day
        groups[-1].append(values)
    return groups
