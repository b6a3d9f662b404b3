"""Reasons out of the newest inspection. Notes are not repeated: only items and their states."""

from __future__ import annotations

from collections.abc import Iterator

from measurements.verdict.checklist import BY_CODE, ITEMS
from measurements.verdict.said import day
from measurements.verdict.service_facts import Case, Reason


def reasons(case: Case) -> Iterator[Reason]:
    """What the newest inspection found; that there is none."""
    newest = case.device.inspection
    if newest is None:
        yield Reason("never_inspected", "note", "No inspection of it is on record.")
        return
    by_state: dict[str, list[str]] = {}
    for code, state in newest.states.items():
        if code in BY_CODE:
            by_state.setdefault(state, []).append(BY_CODE[code].title.lower())
    on = day(newest.inspected_on)
    if "fault" in by_state:
        named = ", ".join(by_state["fault"])
        yield Reason("inspection_fault", "unserviceable", f"Inspection, {on}: a fault at {named}.")
    if "watch" in by_state:
        named = ", ".join(by_state["watch"])
        yield Reason("inspection_watch", "watch", f"Inspection, {on}: to be watched at {named}.")
    if "fault" not in by_state and "watch" not in by_state:
        good = len(by_state.get("ok", []))
        yield Reason(
            "inspected", "note", f"Inspection, {on}: {good} of {len(ITEMS)} items looked at, all good."
        )
