"""Reasons out of tests: what falls short, what was lost, what is near its limit, what has drifted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from measurements.fitness.service_facts import Baseline, Reason, ServiceCase
from measurements.fitness.test_facts import (
    JUDGED_METRICS,
    KIND_LABELS,
    BandFact,
    TestFact,
    format_band_figure,
    format_day,
    format_figure,
)

# Reasons out of what is near the benchmark, and out of what has changed since commissioning.


def list_margin_reasons(case: ServiceCase, test: TestFact, good: list[BandFact]) -> Iterator[Reason]:
    """Yield one reason for all bands that are near the benchmark, the nearest first."""
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
    also = "".join(f", {band.band} {format_band_figure(test, band)}" for band in others)
    yield Reason(
        "small_margin",
        "watch",
        f"{first.band}: rejection {format_band_figure(test, first)}, {margin_db:.1f} dB above the "
        f"benchmark of "
        f"{test.limit:g} dB{also}; under {case.rules.watch_margin_db:g} dB above it is watched.",
        first.band,
    )


def list_drift_reasons(case: ServiceCase, test: TestFact, first: TestFact | None) -> Iterator[Reason]:
    """Yield one reason for all bands that lost more than is allowed, one for those that gained it."""
    if first is None or first.key == test.key or first.measured_on > test.measured_on:
        return
    changes: list[BandChange] = []
    for band in test.bands:
        before = first.by_band.get(band.band)
        if before is None or before.worst is None or band.worst is None or before.at_least or band.at_least:
            continue
        if abs(band.worst - before.worst) > case.rules.drift_db:
            real_db = case.yardstick().get(band.band)
            if real_db is None or abs(band.worst - before.worst) > real_db:
                changes.append(BandChange(band.band, before.worst, band.worst, real_db))
    for less in (True, False):
        found = [each for each in changes if (each.change_db < 0) == less]
        if found:
            yield _drift_reason(case, sorted(found, key=lambda each: -abs(each.change_db)), first.measured_on)


@dataclass(frozen=True)
class BandChange:
    """A band before and now, dB. real_db: what repeating a test explains, None where nobody knows."""

    band: str
    before_db: float
    now_db: float
    real_db: float | None

    @property
    def change_db(self) -> float:
        return self.now_db - self.before_db


def _drift_reason(case: ServiceCase, found: list[BandChange], since: date) -> Reason:
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
        f"{first.band}: {abs(first.change_db):.1f} dB {'less' if less else 'more'} than on "
        f"{format_day(since)} "
        f"({first.before_db:.1f} to {first.now_db:.1f} dB){also}; {case.rules.drift_db:g} dB are allowed, "
        f"and {known}.",
        first.band,
    )


BENCH_KINDS = ("common_mode", "load_match", "insertion_loss", "balance")


def list_test_reasons(case: ServiceCase, baseline: Baseline | None) -> Iterator[Reason]:
    """Yield everything that the tests say, kind by kind."""
    device = case.device
    if device.newest(*device.telling) is None:
        yield _untested_reason(case)
    for kind in BENCH_KINDS:
        newest = device.newest(kind)
        if newest is None:
            continue
        if kind == "common_mode" and not device.chokes:
            yield _no_choke_reason(newest)
            continue
        yield from _list_kind_reasons(case, newest, baseline)
    yield from _list_dc_reasons(case)
    yield from _list_through_path_reasons(case)
    yield from _list_discarded_test_reasons(case)
    yield from _list_antenna_reasons(case)


def _list_dc_reasons(case: ServiceCase) -> Iterator[Reason]:
    """Yield a wrong reading stands until the ohmmeter test is made again and good."""
    newest = case.device.newest("dc")
    if newest is None or newest.dc is None:
        return
    on = format_day(newest.measured_on)
    if newest.dc.meets is False:
        yield Reason("dc_fault", "unserviceable", f"Ohmmeter, {on}: {'; '.join(newest.dc.wrong)}.")
    else:
        yield Reason("dc_good", "note", f"Ohmmeter, {on}: {newest.dc.read} readings, all as its type should.")


def _list_through_path_reasons(case: ServiceCase) -> Iterator[Reason]:
    """Yield with both terminals tied, a broken wire is invisible: the way through needs a test of its own."""
    device = case.device
    if not device.chokes or device.newest("common_mode") is None:
        return
    shown = device.newest("load_match", "insertion_loss")
    dc = device.newest("dc")
    if shown is not None or (dc is not None and dc.dc is not None and dc.dc.shows_broken_wire):
        return
    yield Reason(
        "through_path_unknown",
        "untested" if device.purpose == "balun" else "note",
        "A common-mode test does not see a broken or shorted wire. Make a load-match test, or for 1:1 an "
        "ohmmeter test.",
    )


def _untested_reason(case: ServiceCase) -> Reason:
    wanted = " or ".join(KIND_LABELS[kind].lower() for kind in case.device.telling)
    tried = [test for test in case.device.tests if test.kind in case.device.telling]
    if not tried:
        return Reason("never_tested", "untested", f"No {wanted} test of it is stored.")
    why = tried[0].why_not or "no band of it could be judged."
    return Reason(
        "nothing_judged",
        "untested",
        f"Its newest {wanted} test, of {format_day(tried[0].measured_on)}, says nothing: {why}",
    )


def _no_choke_reason(newest: TestFact) -> Reason:
    return Reason(
        "not_there_to_choke",
        "note",
        f"Its common-mode test of {format_day(newest.measured_on)} is not judged: a voltage balun or an "
        f"unun is "
        "not there to choke.",
    )


def _list_kind_reasons(case: ServiceCase, newest: TestFact, baseline: Baseline | None) -> Iterator[Reason]:
    """Yield newest: the newest useful test of a kind."""
    commissioned = baseline is not None and baseline.chosen
    first = baseline.test if baseline is not None and baseline.test.kind == newest.kind else None
    first = first or case.device.first(newest.kind)
    judged = [band for band in newest.bands if band.meets is not None]
    short = [band for band in judged if not band.meets]
    if len(short) == len(judged):
        yield _short_everywhere_reason(newest, short)
    else:
        lost = {band.band: before for band in short if (before := _find_earlier_pass(newest, band, first))}
        if first is not None:
            for band in short:
                if band.band in lost:
                    yield _band_lost_reason(newest, band, first, lost[band.band])
        never = [band for band in short if band.band not in lost]
        if never:
            yield _never_met_reason(newest, never, commissioned)
    good = [band for band in judged if band.meets]
    if good:
        yield _meets_reason(newest, good, len(judged))
    if newest.kind == "common_mode":
        yield from list_margin_reasons(case, newest, good)
        yield from list_drift_reasons(case, newest, first)


def _short_everywhere_reason(test: TestFact, short: list[BandFact]) -> Reason:
    worst = _find_worst_band(test.kind, short)
    return Reason(
        "short_everywhere",
        "unserviceable",
        f"{KIND_LABELS[test.kind]}, {format_day(test.measured_on)}: beyond the limit on every band "
        f"judged; at worst "
        f"{format_band_figure(test, worst)} on {worst.band}{_format_limit(test)}.",
    )


def _find_earlier_pass(test: TestFact, band: BandFact, first: TestFact | None) -> BandFact | None:
    """Return the band in an earlier first test, where it met."""
    if first is None or first.key == test.key:
        return None
    before = first.by_band.get(band.band)
    return before if before is not None and before.meets else None


def _band_lost_reason(test: TestFact, band: BandFact, first: TestFact, before: BandFact) -> Reason:
    return Reason(
        "band_lost",
        "unserviceable",
        f"{band.band}: {JUDGED_METRICS[test.kind].words} "
        f"{format_band_figure(test, band)}{_format_limit(test)}; on "
        f"{format_day(first.measured_on)} it met with {format_band_figure(first, before)}.",
        band.band,
    )


def _never_met_reason(test: TestFact, short: list[BandFact], commissioned: bool) -> Reason:
    """Return one reason for all bands that it never met; a note once it was commissioned so."""
    named = ", ".join(f"{band.band} {format_band_figure(test, band)}" for band in short)
    metric = JUDGED_METRICS[test.kind].words
    said = f"{KIND_LABELS[test.kind]}, beyond the limit: {metric} on {named}{_format_limit(test)}"
    one = short[0].band if len(short) == 1 else None
    these = "this band" if one else "these bands"
    if commissioned:
        return Reason("not_for_band", "note", f"{said}. It was commissioned so: not for {these}.", one)
    return Reason(
        "short_on_band",
        "watch",
        f"{said}. Do not use it there; if it is not meant for {these}, choose its commissioning test.",
        one,
    )


def _meets_reason(test: TestFact, good: list[BandFact], judged: int) -> Reason:
    worst = _find_worst_band(test.kind, good)
    where = f"all {judged} bands judged" if len(good) == judged else f"{len(good)} of {judged} bands judged"
    return Reason(
        "meets",
        "note",
        f"{KIND_LABELS[test.kind]}, {format_day(test.measured_on)}: within the limit on {where}; "
        f"nearest to it "
        f"{format_band_figure(test, worst)} on {worst.band}{_format_limit(test)}.",
    )


def _list_discarded_test_reasons(case: ServiceCase) -> Iterator[Reason]:
    """Yield a newer test of a telling kind that does not count: the state rests on an older one."""
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
                f"A newer test, of {format_day(test.measured_on)}, does not count, so the state rests "
                f"on the one of "
                f"{format_day(used.measured_on)}: {test.why_not}",
            )
            return


def _list_antenna_reasons(case: ServiceCase) -> Iterator[Reason]:
    test = next((test for test in case.device.tests if test.kind == "in_situ" and test.believed), None)
    if test is None:
        return
    bench = case.device.newest(*case.device.telling)
    if test.finding == "device_makes_it_worse" and (bench is None or bench.measured_on <= test.measured_on):
        yield Reason(
            "worse_in_place",
            "watch",
            f"At the antenna, {format_day(test.measured_on)}: far worse through the device than with a "
            "jumper in its place. This test alone proves no fault of it: test it on the bench.",
        )


def _find_worst_band(kind: str, bands: list[BandFact]) -> BandFact:
    figures = [band for band in bands if band.worst is not None]
    pick = min if JUDGED_METRICS[kind].high_is_good else max
    return pick(figures, key=lambda band: band.worst or 0.0)


def _format_limit(test: TestFact) -> str:
    if test.limit is None:
        return ""
    if test.kind == "common_mode":
        return f" (benchmark {test.limit:g} dB)"
    return f" (limit {format_figure(test.kind, test.limit)})"
