"""What a state rests on, band by band, and what it does not cover."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from measurements.fitness.changed_figures import format_judged, format_limit
from measurements.fitness.due_events import DUE_EVENTS_BY_CODE
from measurements.fitness.last_answers import BENCH_KINDS, BandAnswer
from measurements.fitness.required_checks import find_through_test, list_required_bands
from measurements.fitness.service_facts import DeviceFacts, RestsOn, ServiceCase
from measurements.fitness.test_facts import JUDGED_METRICS, KIND_LABELS, TestFact, format_day


def list_basis(case: ServiceCase) -> Iterator[RestsOn]:
    """Yield every good answer that is neither too old nor older than an event that asks for a new one."""
    device = case.device
    for kind in _list_kinds(device):
        for answer in device.checks.of(kind):
            judged = answer.judged
            if judged is None or not answer.meets or answer.too_close is not None:
                continue
            if _is_fresh(case, judged.test):
                figure = f"{JUDGED_METRICS[kind].words} {format_judged(judged)}"
                limit = format_limit(judged).strip(" ()")
                yield RestsOn(kind, answer.band, figure, limit, judged.test.measured_on, judged.test.key)
    read = device.checks.dc
    if read is not None and read.dc is not None and read.dc.meets and _is_fresh(case, read):
        words = f"{read.dc.read} readings, all as its type should"
        yield RestsOn("dc", None, words, "", read.measured_on, read.key)


def _list_kinds(device: DeviceFacts) -> list[str]:
    return [kind for kind in BENCH_KINDS if kind != "common_mode" or device.chokes]


def _is_fresh(case: ServiceCase, test: TestFact) -> bool:
    """Tell whether an answer is within its year, and newer than every event that asks for a new one."""
    device = case.device
    if test.measured_on + timedelta(days=case.rules.test_interval_days) < case.on:
        return False
    is_through = test.kind in ("load_match", "dc") and test.kind not in device.work_kinds
    check = "through_path" if is_through else "work"
    asked = [mark for mark in device.marks if check in DUE_EVENTS_BY_CODE[mark.event].checks]
    return all(mark.is_before(test.measured_on, test.recorded_at) for mark in asked)


def list_gaps(case: ServiceCase, basis: tuple[RestsOn, ...]) -> Iterator[str]:
    """Yield what the state leaves open: bands without a good answer, kinds never tested, what is too old."""
    device = case.device
    covered = {(row.kind, row.band) for row in basis}
    for kind in _list_kinds(device):
        answers = device.checks.of(kind)
        if not answers:
            if kind != "balance":
                yield f"{KIND_LABELS[kind]}: not tested."
            continue
        left = [answer for answer in answers if (kind, answer.band) not in covered]
        yield from _describe_left(case, kind, left)
        swept = {answer.band for answer in answers}
        missing = [band for band in _list_bands(device) if band not in swept]
        if missing:
            yield f"{KIND_LABELS[kind]} on {', '.join(missing)}: not tested."
    if find_through_test(device) is None:
        yield "The way through: not found good."
    if not device.chokes:
        yield "Choking: such a device is not there to choke."


def _list_bands(device: DeviceFacts) -> tuple[str, ...]:
    seen = [answer.band for answer in device.checks.of(*BENCH_KINDS)]
    return tuple(dict.fromkeys((*list_required_bands(device), *seen)))


def _describe_left(case: ServiceCase, kind: str, left: list[BandAnswer]) -> Iterator[str]:
    short = [answer.band for answer in left if answer.meets is False]
    close = [answer.band for answer in left if answer.too_close is not None and answer.meets is not False]
    old = [answer for answer in left if answer.meets and answer.too_close is None]
    if short:
        yield f"{KIND_LABELS[kind]} on {', '.join(short)}: beyond the limit."
    if close:
        yield f"{KIND_LABELS[kind]} on {', '.join(close)}: too close to the limit to call."
    if old:
        days = [answer.judged.test.measured_on for answer in old if answer.judged is not None]
        named = ", ".join(answer.band for answer in old)
        since = format_day(min(days))
        yield f"{KIND_LABELS[kind]} on {named}: good on {since}, too long ago or before an event."
