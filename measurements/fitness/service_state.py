"""The service state of a device: what its own newest tests and inspections support, with reasons.

Order, the first that any reason stands for wins:

1. `unserviceable`: a known fault. It beats everything: a fault is not cured by being old, and a device that
   is both faulty and overdue must not be filed as "only overdue".
2. `untested`: its work on some band or its way through was never tested. It beats `overdue`, because that
   says of a test "it was good once", and nobody knows that.
3. `overdue`: a test or an item is too old, an item was never looked at, or something happened since.
4. `watch`: no fault is known, and something asks for another look.
5. `serviceable`: it is good. It still has reasons: what it was found good for.

Each item of the check list and each kind of test on each band keeps its own last answer and day
(`last_answers.py`). Serviceable takes all of: its work tested on every band that it has to be good for, its
way through, every item looked at, each within its year, and no event since. A band on which a device always
fell short is not a fault: a choke for 40 m may do nothing on 160 m. It is lost only where it once met; and it
is accepted as "not for that band" once somebody chose the commissioning test. Until then it is to be watched.
Nothing here says anything about power.
"""

from __future__ import annotations

from measurements.fitness import electrical_reasons, upkeep_reasons
from measurements.fitness.due_dates import compute_due_date
from measurements.fitness.required_checks import list_untested_bands
from measurements.fitness.service_facts import (
    SERVICE_STATES,
    NextStep,
    Reason,
    ServiceAssessment,
    ServiceCase,
    ServiceState,
    find_baseline,
)
from measurements.fitness.standing_marks import format_missing, list_standing_marks
from measurements.fitness.state_basis import list_basis, list_gaps
from measurements.fitness.test_facts import KIND_LABELS, format_day

# The one thing to do next, out of the gravest reason.

FIND_FAULT_MESSAGE = "Take it out of service. Find the fault step by step, mend it, and test it again."

MEND_MESSAGE = "Take it out of service, mend what the inspection found, then inspect and test it again."


def choose_next_step(case: ServiceCase, state: ServiceState, reasons: tuple[Reason, ...]) -> NextStep:
    """Choose the next step that clears the gravest of `reasons`, the gravest first."""
    code = next((reason.code for reason in reasons if reason.weight == state), "")
    kind = case.device.telling[0]
    wanted = _format_test(kind)
    if state == "unserviceable":
        return (
            NextStep("mend", MEND_MESSAGE)
            if code == "inspection_fault"
            else NextStep("find_fault", FIND_FAULT_MESSAGE)
        )
    if state == "untested":
        return _untested_step(case, code, wanted)
    if state == "overdue":
        return _overdue_step(case, reasons, wanted)
    if state == "watch":
        return _watch_step(code, kind, wanted)
    first = case.device.first(kind)
    if first is not None and not case.device.baseline:
        return NextStep(
            "commission",
            "Choose its commissioning test: later tests are then held against it.",
        )
    return NextStep("wait", _format_wait(case))


def _untested_step(case: ServiceCase, code: str, wanted: str) -> NextStep:
    kind = case.device.telling[0]
    if code == "through_path_unknown":
        return NextStep("test", f"Make {_format_test('load_match')} of it.", "load_match")
    if code == "bands_untested":
        bands = ", ".join(list_untested_bands(case.device))
        return NextStep("test", f"Make {wanted} on {bands}, or choose its commissioning test.", kind)
    return NextStep("test", f"Make {wanted} of it.", kind)


def _format_test(kind: str) -> str:
    words = "common-mode" if kind == "common_mode" else KIND_LABELS[kind].lower()
    return f"{'an' if words[0] in 'aeiou' else 'a'} {words} test"


def _overdue_step(case: ServiceCase, reasons: tuple[Reason, ...], wanted: str) -> NextStep:
    kind = case.device.telling[0]
    codes = {reason.code for reason in reasons}
    marks = list_standing_marks(case.device)
    if marks:
        _, missing = marks[0]
        todo = format_missing(case.device, missing)
        asked = None if missing.items else kind if missing.bands else "load_match"
        return NextStep("inspect" if missing.items else "test", f"{todo[0].upper()}{todo[1:]}.", asked)
    late = [wanted] if "test_overdue" in codes else []
    if "through_path_overdue" in codes:
        late.append(_format_test("load_match"))
    if late:
        what = " and ".join(dict.fromkeys(late))
        more = ", and inspect it" if codes & _INSPECTION_DUE else ""
        return NextStep("test", f"Make {what}{more}.", kind if "test_overdue" in codes else "load_match")
    if codes & {"inspection_overdue", "never_inspected"}:
        return NextStep("inspect", "Inspect it, item by item.")
    return NextStep("inspect", "Look at the items that nobody looked at yet.")


_INSPECTION_DUE = {"inspection_overdue", "never_inspected", "not_all_looked_at"}


def _watch_step(code: str, kind: str, wanted: str) -> NextStep:
    if code == "inspection_watch":
        return NextStep("inspect", "Look again at what the inspection noted, and say how it is now.")
    if code == "short_on_band":
        return NextStep(
            "commission",
            "If it is not meant for the bands on which it falls short, choose its commissioning test; else "
            "mend it and test again.",
        )
    return NextStep("test", f"Make {wanted} again, to see whether it stays so.", kind)


def _format_wait(case: ServiceCase) -> str:
    day_due = compute_due_date(case)
    return "Nothing now." if day_due is None else f"Nothing now; next due on {format_day(day_due)}."


def assess_device(case: ServiceCase) -> ServiceAssessment:
    """Return state, reasons (the gravest first), the next step, and when something is due next."""
    device = case.device
    baseline = find_baseline(device)
    reasons = [
        *electrical_reasons.list_test_reasons(case, baseline),
        *upkeep_reasons.list_inspection_reasons(case),
        *upkeep_reasons.list_due_reasons(case),
    ]
    ordered = tuple(sorted(reasons, key=_rank_gravity))
    state = _choose_state(ordered)
    basis = tuple(list_basis(case))
    return ServiceAssessment(
        state,
        ordered,
        _choose_step(case, state, ordered),
        compute_due_date(case),
        baseline,
        basis,
        tuple(list_gaps(case, basis)),
    )


def _choose_state(reasons: tuple[Reason, ...]) -> ServiceState:
    weights = {reason.weight for reason in reasons}
    return next(state for state in SERVICE_STATES if state in weights or state == "serviceable")


def _choose_step(case: ServiceCase, state: ServiceState, reasons: tuple[Reason, ...]) -> NextStep:
    if case.device.retired_on is not None:
        return NextStep("none", "Nothing: it is out of service for good.")
    return choose_next_step(case, state, reasons)


def _rank_gravity(reason: Reason) -> int:
    return (*SERVICE_STATES[:-1], "note").index(reason.weight)
