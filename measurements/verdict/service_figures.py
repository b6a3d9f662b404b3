"""Reasons out of tests: what falls short, what was lost, what is near its limit, what has drifted."""

from __future__ import annotations

from collections.abc import Iterator

from measurements.verdict import service_margins
from measurements.verdict.said import KIND_WORDS, day
from measurements.verdict.service_facts import Baseline, Case, Reason
from measurements.verdict.test_facts import JUDGED, BandFact, TestFact, figure, write

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
        lost = {band.band: before for band in short if (before := _met_before(newest, band, first))}
        if first is not None:
            for band in short:
                if band.band in lost:
                    yield _lost(newest, band, first, lost[band.band])
        never = [band for band in short if band.band not in lost]
        if never:
            yield _never_met(newest, never, commissioned)
    good = [band for band in judged if band.meets]
    if good:
        yield _meets(newest, good, len(judged))
    if newest.kind == "common_mode":
        yield from service_margins.margins(case, newest, good)
        yield from service_margins.drifts(case, newest, first)


def _short_everywhere(test: TestFact, short: list[BandFact]) -> Reason:
    worst = _gravest(test.kind, short)
    return Reason(
        "short_everywhere",
        "unserviceable",
        f"{KIND_WORDS[test.kind]}, {day(test.measured_on)}: beyond the limit on every band judged; at worst "
        f"{figure(test, worst)} on {worst.band}{_against(test)}.",
    )


def _met_before(test: TestFact, band: BandFact, first: TestFact | None) -> BandFact | None:
    """The band in an earlier first test, where it met."""
    if first is None or first.key == test.key:
        return None
    before = first.by_band.get(band.band)
    return before if before is not None and before.meets else None


def _lost(test: TestFact, band: BandFact, first: TestFact, before: BandFact) -> Reason:
    return Reason(
        "band_lost",
        "unserviceable",
        f"{band.band}: {JUDGED[test.kind].words} {figure(test, band)}{_against(test)}; on "
        f"{day(first.measured_on)} it met with {figure(first, before)}.",
        band.band,
    )


def _never_met(test: TestFact, short: list[BandFact], commissioned: bool) -> Reason:
    """One reason for all bands that it never met; a note once it was commissioned so."""
    named = ", ".join(f"{band.band} {figure(test, band)}" for band in short)
    said = f"{KIND_WORDS[test.kind]}, beyond the limit: {JUDGED[test.kind].words} on {named}{_against(test)}"
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


def _meets(test: TestFact, good: list[BandFact], judged: int) -> Reason:
    worst = _gravest(test.kind, good)
    where = f"all {judged} bands judged" if len(good) == judged else f"{len(good)} of {judged} bands judged"
    return Reason(
        "meets",
        "note",
        f"{KIND_WORDS[test.kind]}, {day(test.measured_on)}: within the limit on {where}; nearest to it "
        f"{figure(test, worst)} on {worst.band}{_against(test)}.",
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


def _against(test: TestFact) -> str:
    if test.limit is None:
        return ""
    if test.kind == "common_mode":
        return f" (benchmark {test.limit:g} dB)"
    return f" (limit {write(test.kind, test.limit)})"
