"""Reasons out of inspections, out of time, and out of marks: item by item, each with its own day."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from measurements.fitness.checklist import CHECKLIST_ITEMS, ITEMS_BY_CODE, RETIRED_TITLES
from measurements.fitness.due_dates import THROUGH, list_item_due_dates, list_test_due_dates
from measurements.fitness.due_events import DUE_EVENTS_BY_CODE
from measurements.fitness.last_answers import ItemAnswer
from measurements.fitness.required_checks import find_through_test, find_work_test
from measurements.fitness.service_facts import DeviceFacts, Reason, ServiceCase
from measurements.fitness.standing_marks import format_missing, list_standing_marks
from measurements.fitness.test_facts import KIND_LABELS, TestFact, format_day


def list_inspection_reasons(case: ServiceCase) -> Iterator[Reason]:
    """Yield reasons from the last answer to each item, or from the absence of any. Notes are not repeated."""
    answers = case.device.items
    known = {code: answer for code, answer in answers.items() if _get_title(code)}
    if not any(code in ITEMS_BY_CODE for code in known):
        yield Reason(
            "never_inspected",
            "overdue",
            f"It was never inspected, and is due since {format_day(case.device.registered_on)}.",
        )
    faults = [answer for answer in known.values() if answer.state == "fault" and not _is_read(case, answer)]
    watched = [answer for answer in known.values() if answer.state == "watch"]
    if faults:
        yield _fault_reason(faults)
    if watched:
        yield Reason("inspection_watch", "watch", f"Inspection: to be watched at {_name_items(watched)}.")
    yield from _list_mended_reasons(case, list(known.values()))
    left = [item.title.lower() for item in CHECKLIST_ITEMS if item.code not in answers]
    good = [answer for answer in known.values() if answer.state == "ok"]
    if good:
        yield _inspected_reason(good, known)
    if left and len(left) < len(CHECKLIST_ITEMS):
        yield Reason("not_all_looked_at", "overdue", f"Inspection: never looked at {', '.join(left)}.")


def _fault_reason(faults: Sequence[ItemAnswer]) -> Reason:
    unsaid = any(answer.repeated_without_word for answer in faults)
    more = " A later answer called it good without what was done about it." if unsaid else ""
    return Reason(
        "inspection_fault",
        "unserviceable",
        f"Inspection: a fault at {_name_items(faults)}. It stands until that item is answered good with "
        f"what was done.{more}",
    )


def _inspected_reason(good: Sequence[ItemAnswer], known: dict[str, ItemAnswer]) -> Reason:
    apply = sum(
        item.code not in known or known[item.code].state != "does_not_apply" for item in CHECKLIST_ITEMS
    )
    days = sorted(answer.on for answer in good)
    on = format_day(days[-1]) if days[0] == days[-1] else f"{format_day(days[0])} to {format_day(days[-1])}"
    return Reason("inspected", "note", f"Inspection, {on}: {len(good)} of {apply} items that apply are good.")


def _list_mended_reasons(case: ServiceCase, answers: Sequence[ItemAnswer]) -> Iterator[Reason]:
    """Yield what was mended after its newest tests: they were made of another state of the device."""
    device = case.device
    for answer in answers:
        item = ITEMS_BY_CODE.get(answer.code)
        if answer.mended_on is None or item is None or not item.electrical or answer.state == "fault":
            continue
        tests = [*device.checks.of(*device.work_kinds)]
        newest = max(
            (each.newest.test.measured_on for each in tests if each.newest is not None), default=None
        )
        if newest is not None and newest < answer.mended_on:
            yield Reason(
                "test_after_mending",
                "watch",
                f"{item.title}: mended on {format_day(answer.mended_on)}, after its newest test of "
                f"{format_day(newest)}. Test it again.",
            )


def _is_read(case: ServiceCase, answer: ItemAnswer) -> bool:
    """Tell whether a later good ohmmeter test answers what an earlier check list said of continuity."""
    read = case.device.checks.dc
    if answer.code not in RETIRED_TITLES or read is None or read.dc is None:
        return False
    return bool(read.dc.meets) and read.measured_on >= answer.on


def _get_title(code: str) -> str:
    """Return an item's name within a sentence; empty for one that no check list has."""
    item = ITEMS_BY_CODE.get(code)
    return RETIRED_TITLES.get(code, "") if item is None else item.title.lower()


def _name_items(answers: Sequence[ItemAnswer]) -> str:
    return ", ".join(f"{_get_title(answer.code)} ({format_day(answer.on)})" for answer in answers)


# What is due: of a retired device nothing is.


def list_due_reasons(case: ServiceCase) -> Iterator[Reason]:
    """Yield marks that stand, and answers that are too old, each by its own day."""
    device = case.device
    if device.retired_on is not None:
        on = format_day(device.retired_on)
        yield Reason("retired", "unserviceable", f"Out of service for good since {on}.")
        return
    for mark, missing in list_standing_marks(device):
        title = DUE_EVENTS_BY_CODE[mark.event].title
        said = ": ".join(part for part in (title if mark.event != "other" else "", mark.reason) if part)
        yield Reason(
            "marked_due",
            "overdue",
            f"Marked as due on {format_day(mark.since)}{f' ({said})' if said else ''}. Still to do: "
            f"{format_missing(device, missing)}.",
        )
    yield from _list_old_tests(case)
    yield from _list_old_items(case)


def _list_old_tests(case: ServiceCase) -> Iterator[Reason]:
    late = {name: day for name, day in list_test_due_dates(case).items() if day < case.on}
    bands = [name for name in late if name != THROUGH]
    every = f"a test is due every {case.rules.test_interval_days} days and was due on"
    if bands:
        tested = _find_oldest([find_work_test(case.device, band) for band in bands])
        yield Reason(
            "test_overdue",
            "overdue",
            f"{_name_work(case.device)} on {', '.join(bands)}: last tested on {format_day(tested)}; "
            f"{every} {format_day(min(late[band] for band in bands))}.",
            bands[0] if len(bands) == 1 else None,
        )
    if THROUGH in late:
        tested = _find_oldest([find_through_test(case.device)])
        yield Reason(
            "through_path_overdue",
            "overdue",
            f"The way through: last tested on {format_day(tested)}; {every} {format_day(late[THROUGH])}.",
        )


def _find_oldest(tests: Sequence[TestFact | None]) -> date:
    return min(test.measured_on for test in tests if test is not None)


def _name_work(device: DeviceFacts) -> str:
    return " or ".join(
        KIND_LABELS[kind] if not at else KIND_LABELS[kind].lower()
        for at, kind in enumerate(device.work_kinds)
    )


def _list_old_items(case: ServiceCase) -> Iterator[Reason]:
    late = {code: day for code, day in list_item_due_dates(case).items() if day < case.on}
    if not late:
        return
    answers = [case.device.items[code] for code in late]
    yield Reason(
        "inspection_overdue",
        "overdue",
        f"Last looked at {_name_items(answers)}; an inspection is due every "
        f"{case.rules.inspection_interval_days} days and was due on {format_day(min(late.values()))}.",
    )
