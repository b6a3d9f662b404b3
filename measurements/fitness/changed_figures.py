"""Reasons out of figures that are good: near their limit, within U of it, or changed since commissioning."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import hypot

from measurements.fitness.last_answers import BandAnswer, Judged
from measurements.fitness.service_facts import Baseline, Reason, ServiceCase
from measurements.fitness.test_facts import (
    JUDGED_METRICS,
    KIND_LABELS,
    format_band_figure,
    format_day,
    format_figure,
)


def format_judged(judged: Judged) -> str:
    """Return the figure of a band with its unit."""
    return format_band_figure(judged.test, judged.band)


def format_limit(judged: Judged) -> str:
    """Return the limit that it was held against, in brackets; empty where its kind has none."""
    limit = judged.test.limit
    if limit is None:
        return ""
    if judged.test.kind == "common_mode":
        return f" (benchmark {limit:g} dB)"
    return f" (limit {format_figure(judged.test.kind, limit)})"


def list_undecided_reasons(kind: str, answers: Sequence[BandAnswer]) -> Iterator[Reason]:
    """Yield one reason for all bands whose newest figure lies within its U of the limit."""
    close = [
        (answer.band, answer.too_close)
        for answer in answers
        if answer.too_close is not None and answer.meets is not False
    ]
    if not close:
        return
    named = ", ".join(f"{band} {format_judged(judged)}" for band, judged in close)
    yield Reason(
        "too_close",
        "watch",
        f"{KIND_LABELS[kind]}, too close to the limit to call: {named}{format_limit(close[0][1])}. "
        "Test it again, on an analyser that is described and checked.",
        close[0][0] if len(close) == 1 else None,
    )


# Near the limit: what meets lies inside by its U or more; a repeat may still come out beyond.


def list_margin_reasons(case: ServiceCase, kind: str, good: Sequence[Judged]) -> Iterator[Reason]:
    """Yield one reason for all bands so near their limit that repeating the test may show them beyond it."""
    margins = [(_compute_margin(judged), judged) for judged in good if not judged.band.at_least]
    near = [
        (margin, judged)
        for margin, judged in margins
        if margin is not None and margin < _get_watched_margin(case, judged, margin)
    ]
    if not near:
        return
    (margin, first), *others = sorted(near, key=lambda each: each[0])
    also = "".join(f", {judged.band.band} {format_judged(judged)}" for _, judged in others)
    yield Reason(
        "small_margin",
        "watch",
        f"{first.band.band}: {JUDGED_METRICS[kind].words} {format_judged(first)}, "
        f"{format_figure(kind, margin)} inside the limit{format_limit(first)}{also}; under "
        f"{format_figure(kind, _get_watched_margin(case, first, margin))} inside it is watched.",
        first.band.band,
    )


def _compute_margin(judged: Judged) -> float | None:
    limit, worst = judged.test.limit, judged.band.worst
    if limit is None or worst is None:
        return None
    return worst - limit if JUDGED_METRICS[judged.test.kind].high_is_good else limit - worst


# no repeat explains more: beyond it the yardstick need not be asked for (house default, no source)
_MOST_EXPLAINED = {"common_mode": 6.0, "load_match": 0.3, "insertion_loss": 0.3}


def _get_watched_margin(case: ServiceCase, judged: Judged, margin: float) -> float:
    """Return the larger of what the group watches and of what repeating a test explains."""
    kind = judged.test.kind
    asked = case.rules.watch_margin_db if kind == "common_mode" else 0.0
    if margin < asked or margin >= _MOST_EXPLAINED.get(kind, 0.0):
        return asked
    return max(asked, case.yardstick(kind).get(judged.band.band, 0.0))


# Changed since commissioning: beyond what is allowed, what U explains and what repeating explains.


@dataclass(frozen=True)
class BandChange:
    """A judged figure before and now. explained: what repeating a test explains, None where nobody knows."""

    band: str
    before: Judged
    now: Judged
    explained: float | None

    @property
    def change(self) -> float:
        return (self.now.band.worst or 0.0) - (self.before.band.worst or 0.0)

    @property
    def is_worse(self) -> bool:
        return (self.change < 0) == JUDGED_METRICS[self.now.test.kind].high_is_good


def list_drift_reasons(
    case: ServiceCase, kind: str, answers: Sequence[BandAnswer], baseline: Baseline | None
) -> Iterator[Reason]:
    """Yield one reason for all bands that got worse by more than is allowed, one for the better ones."""
    allowed = case.rules.get_allowed_drift(kind)
    if allowed is None:
        return
    found = [_find_change(case, answer, baseline, allowed) for answer in answers]
    changes = [change for change in found if change is not None]
    for worse in (True, False):
        same = sorted(
            (each for each in changes if each.is_worse == worse), key=lambda each: -abs(each.change)
        )
        if same:
            yield _build_drift_reason(kind, same, allowed)


def _find_change(
    case: ServiceCase, answer: BandAnswer, baseline: Baseline | None, allowed: float
) -> BandChange | None:
    now, before = answer.newest, _find_before(answer, baseline)
    if now is None or before is None or before.test.key == now.test.key:
        return None
    if before.test.measured_on > now.test.measured_on:
        return None
    figures = (before.band.worst, now.band.worst)
    if None in figures or before.band.at_least or now.band.at_least:
        return None
    change = abs((figures[1] or 0.0) - (figures[0] or 0.0))
    noise = hypot(before.band.uncertainty or 0.0, now.band.uncertainty or 0.0)
    if change <= allowed or change <= noise:
        return None
    explained = case.yardstick(answer.kind).get(answer.band)
    if explained is not None and change <= explained:
        return None
    return BandChange(answer.band, before, now, explained)


def _find_before(answer: BandAnswer, baseline: Baseline | None) -> Judged | None:
    """Return the band at commissioning where that test has it, else the first that decided."""
    if baseline is not None and baseline.test.kind == answer.kind:
        band = baseline.test.by_band.get(answer.band)
        return None if band is None else Judged(baseline.test, band)
    return answer.first


def _build_drift_reason(kind: str, found: Sequence[BandChange], allowed: float) -> Reason:
    first, *others = found
    digits = JUDGED_METRICS[kind].digits
    known = (
        "nobody knows yet how well the group repeats a test"
        if first.explained is None
        else f"repeating a test explains up to {format_figure(kind, max(first.explained, 10**-digits))}"
    )
    also = "".join(f", {each.band} {format_figure(kind, abs(each.change))}" for each in others)
    more = "more" if first.change > 0 else "less"
    return Reason(
        "drifted" if first.is_worse else "drifted_up",
        "watch" if first.is_worse else "note",
        f"{first.band}: {JUDGED_METRICS[kind].words} {format_figure(kind, abs(first.change))} {more} than on "
        f"{format_day(first.before.test.measured_on)} ({format_judged(first.before)} to "
        f"{format_judged(first.now)}){also}; {format_figure(kind, allowed)} are allowed, and {known}.",
        first.band,
    )
