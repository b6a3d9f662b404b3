"""Reasons out of time: tests and inspections that are too old, marks, retirement."""

from __future__ import annotations

from collections.abc import Iterator

from measurements.fitness.checklist import CHECKLIST_ITEMS, ITEMS_BY_CODE
from measurements.fitness.service_facts import (
    Reason,
    ServiceCase,
    compute_inspection_due_date,
    compute_test_due_date,
)
from measurements.fitness.test_facts import format_day


def list_due_reasons(case: ServiceCase) -> Iterator[Reason]:
    """What is due; of a retired device nothing is."""
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
    """What the newest inspection found; that there is none."""
    newest = case.device.inspection
    if newest is None:
        yield Reason("never_inspected", "note", "No inspection of it is on record.")
        return
    by_state: dict[str, list[str]] = {}
    for code, state in newest.states.items():
        if code in ITEMS_BY_CODE:
            by_state.setdefault(state, []).append(ITEMS_BY_CODE[code].title.lower())
    on = format_day(newest.inspected_on)
    if "fault" in by_state:
        named = ", ".join(by_state["fault"])
        yield Reason("inspection_fault", "unserviceable", f"Inspection, {on}: a fault at {named}.")
    if "watch" in by_state:
        named = ", ".join(by_state["watch"])
        yield Reason("inspection_watch", "watch", f"Inspection, {on}: to be watched at {named}.")
    if "fault" not in by_state and "watch" not in by_state:
        good = len(by_state.get("ok", []))
        yield Reason(
            "inspected",
            "note",
            f"Inspection, {on}: {good} of {len(CHECKLIST_ITEMS)} items looked at, all good.",
        )
