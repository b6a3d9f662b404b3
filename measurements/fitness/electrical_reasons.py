"""Reasons out of tests: what falls short, what was lost, what was never tested, and what does not count."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from measurements.fitness import changed_figures
from measurements.fitness.changed_figures import format_judged, format_limit
from measurements.fitness.last_answers import BENCH_KINDS, BandAnswer, Judged
from measurements.fitness.required_checks import (
    find_through_test,
    list_required_bands,
    list_untested_bands,
)
from measurements.fitness.service_facts import Baseline, Reason, ServiceCase
from measurements.fitness.test_facts import JUDGED_METRICS, KIND_LABELS, TestFact, format_day


def list_test_reasons(case: ServiceCase, baseline: Baseline | None) -> Iterator[Reason]:
    """Yield everything that the tests say, and everything that they leave open."""
    yield from _list_untested_reasons(case)
    for kind in BENCH_KINDS:
        answers = case.device.checks.of(kind)
        if not answers:
            continue
        if kind == "common_mode" and not case.device.chokes:
            yield _no_choke_reason(answers)
            continue
        yield from _list_kind_reasons(case, kind, answers, baseline)
    yield from _list_dc_reasons(case)
    yield from _list_discarded_test_reasons(case)
    yield from _list_antenna_reasons(case)


# What was never tested.


def _list_untested_reasons(case: ServiceCase) -> Iterator[Reason]:
    device = case.device
    if not any(answer.judged for answer in device.checks.of(*device.work_kinds)):
        yield _never_tested_reason(case)
    else:
        missing = list_untested_bands(device)
        if missing:
            yield _untested_bands_reason(case, missing)
    if find_through_test(device) is None and not _has_short_through(case):
        yield Reason(
            "through_path_unknown",
            "untested",
            "The way through was never found good. A common-mode test does not see a broken or shorted "
            "wire: make a load-match test, or of a 1:1 device an ohmmeter test."
            if device.chokes
            else "The way through was never found good: make a load-match or an insertion-loss test.",
        )


def _has_short_through(case: ServiceCase) -> bool:
    """Tell whether the way through was tested and is known to be bad: that reason says more."""
    read = case.device.checks.dc
    if read is not None and read.dc is not None and read.dc.meets is False:
        return True
    answers = case.device.checks.of("load_match")
    return bool(answers) and all(answer.meets is False for answer in answers)


def _never_tested_reason(case: ServiceCase) -> Reason:
    kinds = case.device.work_kinds
    wanted = " or ".join(KIND_LABELS[kind].lower() for kind in kinds)
    tried = [test for test in case.device.tests if test.kind in kinds]
    if not tried:
        return Reason("never_tested", "untested", f"No {wanted} test of it is stored.")
    why = tried[0].why_not or "no band of it could be judged."
    return Reason(
        "nothing_judged",
        "untested",
        f"Its newest {wanted} test, of {format_day(tried[0].measured_on)}, says nothing: {why}",
    )


def _untested_bands_reason(case: ServiceCase, missing: Sequence[str]) -> Reason:
    kind = KIND_LABELS[case.device.work_kinds[0]]
    return Reason(
        "bands_untested",
        "untested",
        f"{kind}, never tested on {', '.join(missing)}. Sweep these bands too; or, if it is not meant for "
        "them, choose its commissioning test.",
        missing[0] if len(missing) == 1 else None,
    )


# What the newest answers of a kind say, band by band.


def _list_kind_reasons(
    case: ServiceCase, kind: str, answers: Sequence[BandAnswer], baseline: Baseline | None
) -> Iterator[Reason]:
    short = [answer for answer in answers if answer.meets is False]
    good = [answer.judged for answer in answers if answer.meets and answer.judged is not None]
    if short and not good:
        yield _short_everywhere_reason(kind, short)
    else:
        yield from _list_short_reasons(case, kind, short, baseline)
    if good:
        yield _meets_reason(kind, good, len(good) + len(short))
    yield from changed_figures.list_undecided_reasons(kind, answers)
    yield from changed_figures.list_margin_reasons(case, kind, good)
    yield from changed_figures.list_drift_reasons(case, kind, answers, baseline)


def _list_short_reasons(
    case: ServiceCase, kind: str, short: Sequence[BandAnswer], baseline: Baseline | None
) -> Iterator[Reason]:
    """Yield a band that once met is lost, whatever was commissioned since; one that never met is not for it.

    It is accepted so where it falls short outside the required bands, or was known when the device was
    commissioned.
    """
    for answer in short:
        if answer.met is not None and answer.judged is not None:
            yield _band_lost_reason(answer.judged, answer.met)
    never = [answer for answer in short if answer.met is None]
    required = list_required_bands(case.device)
    known = baseline.test.measured_on if baseline is not None and baseline.chosen else None
    accepted = [answer for answer in never if answer.band not in required or _is_known(answer, known)]
    open_ones = [answer for answer in never if answer not in accepted]
    if accepted:
        yield _not_for_band_reason(kind, accepted, commissioned=known is not None)
    if open_ones:
        yield _short_on_band_reason(kind, open_ones)


def _is_known(answer: BandAnswer, known: object) -> bool:
    return known is not None and answer.first is not None and answer.first.test.measured_on <= known  # type: ignore[operator]


def _short_everywhere_reason(kind: str, short: Sequence[BandAnswer]) -> Reason:
    found = [answer.judged for answer in short if answer.judged is not None]
    worst = _find_worst(kind, found)
    newest = max(judged.test.measured_on for judged in found)
    return Reason(
        "short_everywhere",
        "unserviceable",
        f"{KIND_LABELS[kind]}, {format_day(newest)}: beyond the limit on every band judged; at worst "
        f"{format_judged(worst)} on {worst.band.band}{format_limit(worst)}.",
    )


def _band_lost_reason(now: Judged, before: Judged) -> Reason:
    return Reason(
        "band_lost",
        "unserviceable",
        f"{now.band.band}: {JUDGED_METRICS[now.test.kind].words} {format_judged(now)}{format_limit(now)}, "
        f"{format_day(now.test.measured_on)}; on {format_day(before.test.measured_on)} it met with "
        f"{format_judged(before)}.",
        now.band.band,
    )


def _name_short(kind: str, short: Sequence[BandAnswer]) -> str:
    found = [answer.judged for answer in short if answer.judged is not None]
    named = ", ".join(f"{judged.band.band} {format_judged(judged)}" for judged in found)
    metric = JUDGED_METRICS[kind].words
    return f"{KIND_LABELS[kind]}, beyond the limit: {metric} on {named}{format_limit(found[0])}"


def _not_for_band_reason(kind: str, short: Sequence[BandAnswer], *, commissioned: bool) -> Reason:
    one = short[0].band if len(short) == 1 else None
    these = "this band" if one else "these bands"
    why = "It was commissioned so: not" if commissioned else "Not"
    return Reason("not_for_band", "note", f"{_name_short(kind, short)}. {why} for {these}.", one)


def _short_on_band_reason(kind: str, short: Sequence[BandAnswer]) -> Reason:
    return Reason(
        "short_on_band",
        "watch",
        f"{_name_short(kind, short)}. Do not use it there; if it is not meant for that, choose its "
        "commissioning test.",
        short[0].band if len(short) == 1 else None,
    )


def _meets_reason(kind: str, good: Sequence[Judged], judged: int) -> Reason:
    worst = _find_worst(kind, good)
    where = f"all {judged} bands judged" if len(good) == judged else f"{len(good)} of {judged} bands judged"
    newest = max(each.test.measured_on for each in good)
    return Reason(
        "meets",
        "note",
        f"{KIND_LABELS[kind]}, {format_day(newest)}: within the limit on {where}; nearest to it "
        f"{format_judged(worst)} on {worst.band.band}{format_limit(worst)}.",
    )


def _no_choke_reason(answers: Sequence[BandAnswer]) -> Reason:
    days = [answer.newest.test.measured_on for answer in answers if answer.newest is not None]
    return Reason(
        "not_there_to_choke",
        "note",
        f"Its common-mode test of {format_day(max(days))} is not judged: a voltage balun or an unun is "
        "not there to choke.",
    )


def _list_dc_reasons(case: ServiceCase) -> Iterator[Reason]:
    """Yield what the newest readings say; a wrong one stands until they are made again and good."""
    read = case.device.checks.dc
    if read is None or read.dc is None:
        return
    on = format_day(read.measured_on)
    if read.dc.meets is False:
        yield Reason("dc_fault", "unserviceable", f"Ohmmeter, {on}: {'; '.join(read.dc.wrong)}.")
    elif _contradicts_type(case, read):
        yield Reason(
            "dc_wrong_type",
            "watch",
            f"Ohmmeter, {on}: held against a type that joins all terminals, which a 1:1 choke or current "
            "balun does not. Make it again.",
        )
    else:
        yield Reason("dc_good", "note", f"Ohmmeter, {on}: {read.dc.read} readings, all as its type should.")


def _contradicts_type(case: ServiceCase, read: TestFact) -> bool:
    """Tell whether a shorted wire would have passed: all terminals joined is a fault of a 1:1 choke."""
    device = case.device
    return device.chokes and device.ratio == "1:1" and read.dc is not None and read.dc.dc_type == "all_joined"


# What does not count.


def _list_discarded_test_reasons(case: ServiceCase) -> Iterator[Reason]:
    """Yield for each kind a test that does not count and is newer than the ones that do."""
    device = case.device
    kinds = [kind for kind in BENCH_KINDS if kind != "common_mode" or device.chokes]
    for kind in (*kinds, "dc"):
        used = device.newest(kind)
        newest = next((test for test in device.tests if test.kind == kind), None)
        if used is None or newest is None or newest.believed:
            continue
        yield Reason(
            "newer_not_believed",
            "watch",
            f"{KIND_LABELS[kind]}: a newer test, of {format_day(newest.measured_on)}, does not count, so the "
            f"state rests on the one of {format_day(used.measured_on)}: {newest.why_not}",
        )


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


def _find_worst(kind: str, found: Sequence[Judged]) -> Judged:
    pick = min if JUDGED_METRICS[kind].high_is_good else max
    return pick(found, key=lambda judged: judged.band.worst or 0.0)
