"""Reasons out of tests: what falls short, what was lost, what is near its limit, what has drifted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from measurements.verdict.said import KIND_WORDS, day
from measurements.verdict.service_facts import Baseline, Case, Reason
from measurements.verdict.test_facts import JUDGED, BandFact, TestFact, write

BENCH = ("common_mode", "load_match", "insertion_loss", "balance")


def reasons(case: Case, baseline: Baseline | None) -> Iterator[Reason]:
    """Everything that the tests say, kind by kind."""
    device = case.device
    if device.newest(*device.telling) is None:
        yield _untested(case)
    for kind in BENCH:
        newest = device.newest(kind)
        if newest is None:
            continue
        if kind == "common_mode" and not device.chokes:
            yield _does_not_choke(newest)
            continue
        yield from _of_kind(case, newest, baseline)
    yield from _unbelieved(case)
    yield from _at_the_antenna(case)


def _untested(case: Case) -> Reason:
    wanted = " or ".join(KIND_WORDS[kind].lower() for kind in case.device.telling)
    tried = [test for test in case.device.tests if test.kind in case.device.telling]
    if not tried:
        return Reason("never_tested", "untested", f"No {wanted} test of it is stored.")
    why = tried[0].why_not or "no band of it could be judged."
    return Reason(
        "nothing_judged",
        "untested",
        f"Its newest {wanted} test, of {day(tried[0].measured_on)}, says nothing: {why}",
    )


def _does_not_choke(newest: TestFact) -> Reason:
    return Reason(
        "not_there_to_choke",
        "note",
        f"Its common-mode test of {day(newest.measured_on)} is not judged: a voltage balun or an unun is "
        "not there to choke.",
    )


def _of_kind(case: Case, newest: TestFact, baseline: Baseline | None) -> Iterator[Reason]:
    """newest: the newest useful test of a kind."""
    commissioned = baseline is not None and baseline.chosen
    first = baseline.test if baseline is not None and baseline.test.kind == newest.kind else None
    first = first or case.device.first(newest.kind)
    judged = [band for band in newest.bands if band.meets is not None]
    short = [band for band in judged if not band.meets]
    if len(short) == len(judged):
        yield _short_everywhere(newest, short)
    else:
        for band in short:
            yield _short(newest, band, first, commissioned)
    good = [band for band in judged if band.meets]
    if good:
        yield _meets(newest, good, len(judged))
    if newest.kind == "common_mode":
        yield from _margins(case, newest, good)
        yield from _drifts(case, newest, first)


def _short_everywhere(test: TestFact, short: list[BandFact]) -> Reason:
    worst = _gravest(test.kind, short)
    return Reason(
        "short_everywhere",
        "unserviceable",
        f"{KIND_WORDS[test.kind]}, {day(test.measured_on)}: beyond the limit on every band judged; at worst "
        f"{_figure(test, worst)} on {worst.band}{_against(test)}.",
    )


def _short(test: TestFact, band: BandFact, first: TestFact | None, commissioned: bool) -> Reason:
    said = f"{band.band}: {JUDGED[test.kind].words} {_figure(test, band)}{_against(test)}"
    before = None if first is None else first.by_band.get(band.band)
    if first is not None and before is not None and before.meets and first.key != test.key:
        return Reason(
            "band_lost",
            "unserviceable",
            f"{said}; on {day(first.measured_on)} it met with {_figure(first, before)}.",
            band.band,
        )
    if commissioned:
        return Reason(
            "not_for_band", "note", f"{said}: it was commissioned so and is not for this band.", band.band
        )
    return Reason(
        "short_on_band",
        "watch",
        f"{said}: do not use it there. If it is not meant for this band, choose its commissioning test.",
        band.band,
    )


def _meets(test: TestFact, good: list[BandFact], judged: int) -> Reason:
    worst = _gravest(test.kind, good)
    where = f"all {judged} bands judged" if len(good) == judged else f"{len(good)} of {judged} bands judged"
    return Reason(
        "meets",
        "note",
        f"{KIND_WORDS[test.kind]}, {day(test.measured_on)}: within the limit on {where}; nearest to it "
        f"{_figure(test, worst)} on {worst.band}{_against(test)}.",
    )


def _margins(case: Case, test: TestFact, good: list[BandFact]) -> Iterator[Reason]:
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
    also = "".join(f", {band.band} {_figure(test, band)}" for band in others)
    yield Reason(
        "small_margin",
        "watch",
        f"{first.band}: rejection {_figure(test, first)}, {margin_db:.1f} dB above the benchmark of "
        f"{test.limit:g} dB{also}; under {case.rules.watch_margin_db:g} dB above it is watched.",
        first.band,
    )


def _drifts(case: Case, test: TestFact, first: TestFact | None) -> Iterator[Reason]:
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


def _unbelieved(case: Case) -> Iterator[Reason]:
    """A newer test of a telling kind that does not count: the state rests on an older one."""
    device = case.device
    used = device.newest(*device.telling)
    if used is None:
        return
    for test in device.tests:
        if test.key == used.key:
            return
        if test.kind in device.telling and not test.believed:
            yield Reason(
                "newer_not_believed",
                "watch",
                f"A newer test, of {day(test.measured_on)}, does not count, so the state rests on the one of "
                f"{day(used.measured_on)}: {test.why_not}",
            )
            return


def _at_the_antenna(case: Case) -> Iterator[Reason]:
    test = next((test for test in case.device.tests if test.kind == "in_situ" and test.believed), None)
    if test is None:
        return
    bench = case.device.newest(*case.device.telling)
    if test.finding == "device_at_fault" and (bench is None or bench.measured_on <= test.measured_on):
        yield Reason(
            "at_fault_in_place",
            "unserviceable",
            f"At the antenna, {day(test.measured_on)}: good with a jumper in its place, bad through the "
            "device. It holds until a later test on the bench.",
        )
    elif test.finding == "antenna_or_line_at_fault":
        yield Reason(
            "antenna_in_doubt",
            "note",
            f"At the antenna, {day(test.measured_on)}: bad with the jumper too. Look at the antenna or its "
            "feed line first; the device is not cleared by this.",
        )


def _gravest(kind: str, bands: list[BandFact]) -> BandFact:
    figures = [band for band in bands if band.worst is not None]
    pick = min if JUDGED[kind].high_is_good else max
    return pick(figures, key=lambda band: band.worst or 0.0)


def _figure(test: TestFact, band: BandFact) -> str:
    written = write(test.kind, band.worst) if band.worst is not None else "no figure"
    return f"at least {written}" if band.at_least else written


def _against(test: TestFact) -> str:
    if test.limit is None:
        return ""
    if test.kind == "common_mode":
        return f" (benchmark {test.limit:g} dB)"
    return f" (limit {write(test.kind, test.limit)})"
