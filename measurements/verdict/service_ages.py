"""Reasons out of time: tests and inspections that are too old, marks, retirement."""

from __future__ import annotations

from collections.abc import Iterator

from measurements.verdict.said import day
from measurements.verdict.service_facts import Case, Reason, inspection_due_on, test_due_on


def reasons(case: Case) -> Iterator[Reason]:
    """What is due; of a retired device nothing is."""
    device, rules = case.device, case.rules
    if device.retired_on is not None:
        yield Reason("retired", "note", f"Out of service for good since {day(device.retired_on)}.")
        return
    if device.due_since is not None:
        why = f": {device.due_reason}" if device.due_reason else ""
        yield Reason("marked_due", "overdue", f"Marked as due on {day(device.due_since)}{why}.")
    test_due = test_due_on(device, rules)
    if test_due is not None and test_due < case.on:
        newest = device.newest(*device.telling)
        last = "" if newest is None else f"Last tested on {day(newest.measured_on)}; "
        yield Reason(
            "test_overdue",
            "overdue",
            f"{last}a test is due every {rules.test_interval_days} days and was due on {day(test_due)}.",
        )
    look_due = inspection_due_on(device, rules)
    if look_due < case.on:
        newest_look = device.inspection
        last = (
            "Never inspected" if newest_look is None else f"Last inspected on {day(newest_look.inspected_on)}"
        )
        yield Reason(
            "inspection_overdue",
            "overdue",
            f"{last}; an inspection is due every {rules.inspection_interval_days} days and was due on "
            f"{day(look_due)}.",
        )
