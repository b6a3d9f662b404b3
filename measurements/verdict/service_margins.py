"""Reasons out of what is near the benchmark, and out of what has changed since commissioning."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from measurements.verdict.said import day
from measurements.verdict.service_facts import Case, Reason
from measurements.verdict.test_facts import BandFact, TestFact, figure


def margins(case: Case, test: TestFact, good: list[BandFact]) -> Iterator[Reason]:
    """One reason for all bands that are near the benchmark, the nearest first."""
    if test.limit is None:
        return
    measured = [band for band in good if band.worst is not None and not band.at_least]
    near = sorted(
        (band for band in measured if (band.worst or 0.0) - test.limit < case.rules.watch_margin_db),
        key=lambda band: band.worst or 0.0,
    )
    if not near:
        return
    first, *others = near
    margin_db = (first.worst or 0.0) - test.limit
    also = "".join(f", {band.band} {figure(test, band)}" for band in others)
    yield Reason(
        "small_margin",
        "watch",
        f"{first.band}: rejection {figure(test, first)}, {margin_db:.1f} dB above the benchmark of "
        f"{test.limit:g} dB{also}; under {case.rules.watch_margin_db:g} dB above it is watched.",
        first.band,
    )


def drifts(case: Case, test: TestFact, first: TestFact | None) -> Iterator[Reason]:
    """One reason for all bands that lost more than is allowed, one for those that gained it."""
    if first is None or first.key == test.key or first.measured_on > test.measured_on:
        return
    changes: list[Changed] = []
    for band in test.bands:
        before = first.by_band.get(band.band)
        if before is None or before.worst is None or band.worst is None or before.at_least or band.at_least:
            continue
        if abs(band.worst - before.worst) > case.rules.drift_db:
            real_db = case.yardstick().get(band.band)
            if real_db is None or abs(band.worst - before.worst) > real_db:
                changes.append(Changed(band.band, before.worst, band.worst, real_db))
    for less in (True, False):
        found = [each for each in changes if (each.change_db < 0) == less]
        if found:
            yield _drifted(case, sorted(found, key=lambda each: -abs(each.change_db)), first.measured_on)


@dataclass(frozen=True)
class Changed:
    """A band before and now, dB. real_db: what repeating a test explains, None where nobody knows."""

    band: str
    before_db: float
    now_db: float
    real_db: float | None

    @property
    def change_db(self) -> float:
        return self.now_db - self.before_db


def _drifted(case: Case, found: list[Changed], since: date) -> Reason:
    first, *others = found
    less = first.change_db < 0
    known = (
        "nobody knows yet how well the group repeats a test"
        if first.real_db is None
        else f"repeating a test explains up to {max(first.real_db, 0.1):.1f} dB"
    )
    also = "".join(f", {each.band} {abs(each.change_db):.1f} dB" for each in others)
    return Reason(
        "drifted" if less else "drifted_up",
        "watch" if less else "note",
        f"{first.band}: {abs(first.change_db):.1f} dB {'less' if less else 'more'} than on {day(since)} "
        f"({first.before_db:.1f} to {first.now_db:.1f} dB){also}; {case.rules.drift_db:g} dB are allowed, "
        f"and {known}.",
        first.band,
    )
