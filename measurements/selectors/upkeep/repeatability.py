"""How well tests repeat: the yardstick for a change of one device.

The owner's own repeats come first: same bench, same jig, same hands is what repeating means. Where they are
too few, the group's deviation is used, as a release computed and froze it, rounded up to half a decibel.
Where both are too few, the page says only that.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any

from django.db.models import QuerySet

from measurements.fitness.test_facts import TestFact, build_test_fact
from measurements.models import PublishedPool, Result, Test
from measurements.selectors.upkeep import upkeep_facts
from measurements.selectors.upkeep.rows import RepeatabilityRow
from measurements.verdict.repeatability import (
    LEAST_DOF,
    REPEAT_WITHIN_DAYS,
    PooledDeviation,
    compute_smallest_real_change,
    group_repeats,
    pool_deviations,
)

KINDS = ("common_mode", "load_match", "insertion_loss")  # those of which a change is watched
POOLED_KIND = "common_mode"  # of which releases publish the group's deviations
MOST_LOOKED_AT = 5000  # the newest tests of a contributor
MOST_TESTS = 200  # repeats among them: enough degrees of freedom for any purpose
_PARTS = ("kind", "method", "bands", "flags", "summary")


@dataclass(frozen=True)
class _Repeat:
    contributor: int
    device: int
    settings: tuple[Any, ...]
    test: TestFact


def get_repeatability(contributor_id: int, kind: str = "common_mode") -> RepeatabilityRow:
    """Return the yardstick for devices of this contributor: own repeats, else the group's, else none.

    Figures are in the unit of the kind's judged figure.
    """
    return get_repeatabilities([contributor_id], kind)[contributor_id]


def get_repeatabilities(contributor_ids: Iterable[int], kind: str) -> dict[int, RepeatabilityRow]:
    """Return the yardstick of each contributor, in as many queries for many as for one."""
    wanted = set(contributor_ids)
    repeats: dict[int, list[_Repeat]] = {contributor: [] for contributor in wanted}
    for each in _find_repeats(Test.objects.filter(kind=kind, device__contributor__in=wanted)):
        repeats[each.contributor].append(each)
    shared = _get_group_deviations() if kind == POOLED_KIND else {}
    return {contributor: _choose_yardstick(found, shared) for contributor, found in repeats.items()}


def _choose_yardstick(repeats: list[_Repeat], shared: dict[str, PooledDeviation]) -> RepeatabilityRow:
    own = _pool_repeats(repeats)
    enough = {band: pooled for band, pooled in own.items() if pooled.enough}
    if enough:
        return _repeatability_row("own", enough)
    if shared:
        # how many others repeat theirs stays inside
        return _repeatability_row("group", shared, dof=LEAST_DOF)
    return _repeatability_row("none", {}, dof=max((pooled.dof for pooled in own.values()), default=0))


def _get_group_deviations() -> dict[str, PooledDeviation]:
    """Get the group's deviations by band, as a release froze them (`services.releases.pools`).

    They carry the fewest degrees of freedom that count: it gives nobody's number away.
    """
    newest = PublishedPool.objects.filter(name="repeatability").order_by("-release")
    figures = newest.values_list("figures", flat=True).first() or {}
    return {band: PooledDeviation(sd, LEAST_DOF, 0) for band, sd in figures.get("sd_db", {}).items()}


def _find_repeats(tests: QuerySet[Test]) -> list[_Repeat]:
    """Return tests that have another of the same device near them in time, of the newest ones."""
    found = _near_each_other(tests)
    rows = Result.objects.filter(current=True, test__in=found).values_list(
        "test__device__contributor_id",
        "test__device_id",
        "test__settings",
        "test__key",
        "test__measured_on",
        "test__excluded_reason",
        *(f"figures__{part}" for part in _PARTS),
    )
    limits = upkeep_facts.get_limits_by_kind()
    made = []
    for contributor, device, settings, key, on, excluded, *parts in rows:
        result = dict(zip(_PARTS, parts, strict=True))
        fact = build_test_fact(
            key=key, measured_on=on, result=result, limits=limits, excluded_reason=excluded
        )
        if fact.useful:
            made.append(_Repeat(contributor, device, (fact.method, settings.get("ratio")), fact))
    return made


def _near_each_other(tests: QuerySet[Test]) -> list[int]:
    """Return row numbers of tests that may be repeats: of each contributor the newest, a bounded number."""
    columns = ("device__contributor_id", "pk", "device_id", "measured_on")
    newest: dict[int, list[tuple[int, int, date]]] = {}
    for contributor, *row in tests.order_by("-pk").values_list(*columns):
        kept = newest.setdefault(contributor, [])
        if len(kept) < MOST_LOOKED_AT:
            kept.append((row[0], row[1], row[2]))
    return [pk for rows in newest.values() for pk in _pair_by_device(rows)]


def _pair_by_device(rows: Iterable[tuple[int, int, date]]) -> list[int]:
    """Return the row numbers of those of (row number, device, day) that have another near in time."""
    by_device: dict[int, list[tuple[date, int]]] = {}
    for pk, device, on in rows:
        by_device.setdefault(device, []).append((on, pk))
    near: set[int] = set()
    for made in by_device.values():
        for (earlier, first), (later, second) in pairwise(sorted(made)):
            if (later - earlier).days <= REPEAT_WITHIN_DAYS:
                near |= {first, second}
    return sorted(near, reverse=True)[:MOST_TESTS]


def _pool_repeats(found: Iterable[_Repeat]) -> dict[str, PooledDeviation]:
    groups = group_repeats(
        ((each.device, each.settings), each.test.measured_on, _figures(each.test)) for each in found
    )
    pooled = {band: pool_deviations(columns) for band, columns in groups.items()}
    return {band: value for band, value in pooled.items() if value is not None}


def _figures(test: TestFact) -> dict[str, float]:
    """Return the worst figure per band, where it is one and not the jig's own limit."""
    return {band.band: band.worst for band in test.bands if band.worst is not None and not band.at_least}


def _repeatability_row(
    whose: str, pooled: dict[str, PooledDeviation], *, dof: int | None = None
) -> RepeatabilityRow:
    most = max((value.dof for value in pooled.values()), default=0)
    return RepeatabilityRow(
        whose=whose,
        sd_db={band: round(value.sd, 3) for band, value in pooled.items()},
        real_from_db={band: round(compute_smallest_real_change(value), 2) for band, value in pooled.items()},
        dof=most if dof is None else dof,
        needed_dof=LEAST_DOF,
    )
