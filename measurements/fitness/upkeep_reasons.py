"""Reasons out of time: tests and inspections that are too old, marks, retirement."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from measurements.fitness.checklist import CHECKLIST_ITEMS, ITEMS_BY_CODE, RETIRED_TITLES
from measurements.fitness.service_facts import (
    InspectionFact,
    Reason,
    ServiceCase,
    compute_inspection_due_date,
    compute_test_due_date,
)
from measurements.fitness.test_facts import TestFact, format_day


def list_due_reasons(case: ServiceCase) -> Iterator[Reason]:
    """Yield what is due; of a retired device nothing is."""
    device, rules = case.device, case.rules
    if device.retired_on is not None:
        yield Reason("retired", "note", f"Out of service for good since {format_day(device.retired_on)}.")
        return
    if device.due_since is not None:
        why = f": {device.due_reason}" if device.due_reason else ""
        yield Reason("marked_due", "overdue", f"Marked as due on {format_day(device.due_since)}{why}.")
    test_due = compute_test_due_date(device, rules)
    if test_due is not None and test_due < case.on:
        newest = device.newest(*device.telling)
        last = "" if newest is None else f"Last tested on {format_day(newest.measured_on)}; "
        yield Reason(
            "test_overdue",
            "overdue",
            f"{last}a test is due every {rules.test_interval_days} days and was due on "
            f"{format_day(test_due)}.",
        )
    look_due = compute_inspection_due_date(device, rules)
    if look_due < case.on:
        newest_look = device.inspection
        last = (
            "Never inspected"
            if newest_look is None
            else f"Last inspected on {format_day(newest_look.inspected_on)}"
        )
        yield Reason(
            "inspection_overdue",
            "overdue",
            f"{last}; an inspection is due every {rules.inspection_interval_days} days and was due on "
            f"{format_day(look_due)}.",
        )


# Reasons out of the newest inspection. Notes are not repeated: only items and their states.


def list_inspection_reasons(case: ServiceCase) -> Iterator[Reason]:
    """Collect reasons from the last answer to each item, or from the absence of any."""
    newest = case.device.inspection
    if newest is None:
        yield Reason("never_inspected", "note", "No inspection of it is on record.")
        return
    faults, watched = (_name_items(newest, state, case) for state in ("fault", "watch"))
    if faults:
        yield Reason("inspection_fault", "unserviceable", f"Inspection: a fault at {', '.join(faults)}.")
    if watched:
        yield Reason("inspection_watch", "watch", f"Inspection: to be watched at {', '.join(watched)}.")
    left = [item.title.lower() for item in CHECKLIST_ITEMS if newest.states.get(item.code) in _UNANSWERED]
    if not faults and not watched:
        good = sum(newest.states.get(item.code) == "ok" for item in CHECKLIST_ITEMS)
        apply = len(CHECKLIST_ITEMS) - sum(
            newest.states.get(item.code) == "does_not_apply" for item in CHECKLIST_ITEMS
        )
        yield Reason(
            "inspected",
            "note",
            f"Inspection, {format_day(newest.inspected_on)}: {good} of {apply} items that apply looked at, "
            "all of them good.",
        )
    if left:
        yield Reason("not_all_looked_at", "note", f"Not looked at yet: {', '.join(left)}.")


_UNANSWERED = (None, "not_looked")


def _is_cleared_by(meter: TestFact | None, on: date) -> bool:
    """Tell whether an ohmmeter test that is good was made on this day or later."""
    return meter is not None and meter.dc is not None and bool(meter.dc.meets) and meter.measured_on >= on


def _name_items(newest: InspectionFact, wanted: str, case: ServiceCase) -> list[str]:
    """Name the items in a state with the day of the answer.

    A later good ohmmeter test clears what an earlier check list said of continuity.
    """
    titles = {**{code: item.title.lower() for code, item in ITEMS_BY_CODE.items()}, **RETIRED_TITLES}
    named = []
    for code, state in newest.states.items():
        on = newest.answered_on.get(code, newest.inspected_on)
        meter = case.device.newest("dc")
        cleared = code == "dc" and _is_cleared_by(meter, on)
        if state == wanted and code in titles and not cleared:
            named.append(f"{titles[code]} ({format_day(on)})")
    return named
