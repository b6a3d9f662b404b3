"""The one thing to do next, out of the gravest reason."""

from __future__ import annotations

from measurements.verdict.said import KIND_WORDS, day
from measurements.verdict.service_facts import Case, NextStep, Reason, State, due_on

REPAIR = "Take it out of service. Find the fault step by step, mend it, and test it again."
MEND = "Take it out of service, mend what the inspection found, then inspect and test it again."


def next_step(case: Case, state: State, reasons: tuple[Reason, ...]) -> NextStep:
    """What `reasons` (the gravest first) ask for."""
    code = next((reason.code for reason in reasons if reason.weight == state), "")
    kind = case.device.telling[0]
    wanted = _a_test(kind)
    if state == "unserviceable":
        return NextStep("mend", MEND) if code == "inspection_fault" else NextStep("find_fault", REPAIR)
    if state == "untested":
        return NextStep("test", f"Make {wanted} of it.", kind)
    if state == "overdue":
        return _overdue(reasons, kind, wanted)
    if state == "watch":
        return _watch(code, kind, wanted)
    first = case.device.first(kind)
    if first is not None and not case.device.baseline:
        return NextStep(
            "commission",
            "Choose its commissioning test: later tests are then held against it.",
        )
    return NextStep("wait", _wait(case))


def _a_test(kind: str) -> str:
    words = "common-mode" if kind == "common_mode" else KIND_WORDS[kind].lower()
    return f"{'an' if words[0] in 'aeiou' else 'a'} {words} test"


def _overdue(reasons: tuple[Reason, ...], kind: str, wanted: str) -> NextStep:
    codes = {reason.code for reason in reasons}
    if "marked_due" in codes:
        return NextStep("inspect", f"Inspect it, and make {wanted}.", kind)
    if "test_overdue" in codes and "inspection_overdue" in codes:
        return NextStep("test", f"Make {wanted}, and inspect it.", kind)
    if "test_overdue" in codes:
        return NextStep("test", f"Make {wanted}.", kind)
    return NextStep("inspect", "Inspect it.")


def _watch(code: str, kind: str, wanted: str) -> NextStep:
    if code == "inspection_watch":
        return NextStep("inspect", "Look again at what the inspection noted, and say how it is now.")
    if code == "short_on_band":
        return NextStep(
            "commission",
            "If it is not meant for the bands on which it falls short, choose its commissioning test; else "
            "mend it and test again.",
        )
    return NextStep("test", f"Make {wanted} again, to see whether it stays so.", kind)


def _wait(case: Case) -> str:
    day_due = due_on(case)
    return "Nothing now." if day_due is None else f"Nothing now; next due on {day(day_due)}."
