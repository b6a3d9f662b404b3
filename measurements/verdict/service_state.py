"""The service state of a device: what its own newest tests and inspections support, with reasons.

Order, the first that any reason stands for wins:

1. `unserviceable`: a known fault. It beats everything: a fault is not cured by being old, and a device that
   is both faulty and overdue must not be filed as "only overdue".
2. `untested`: nothing was measured that says whether it does its work. It beats `overdue`, because overdue
   says "it was good once", and nobody knows that.
3. `overdue`: it was good, and its test or inspection is too old, or somebody marked it as due.
4. `watch`: it is good, and something asks for another look.
5. `serviceable`: it is good. It still has reasons: what it was found good for.

A band on which a device always fell short is not a fault: a choke for 40 m may do nothing on 160 m. It is
lost only where it once met; and it is accepted as "not for that band" once somebody chose the commissioning
test. Until then it is to be watched. Nothing here says anything about power.
"""

from __future__ import annotations

from measurements.verdict import service_ages, service_figures, service_looks
from measurements.verdict.service_facts import (
    STATES,
    Case,
    NextStep,
    Reason,
    Service,
    State,
    baseline_of,
    due_on,
)
from measurements.verdict.service_steps import next_step


def judge(case: Case) -> Service:
    """State, reasons (the gravest first), the next step, and when something is due next."""
    device = case.device
    baseline = baseline_of(device)
    reasons = [
        *service_figures.reasons(case, baseline),
        *service_looks.reasons(case),
        *service_ages.reasons(case),
    ]
    ordered = tuple(sorted(reasons, key=_gravity))
    state = _state(ordered)
    return Service(state, ordered, _step(case, state, ordered), due_on(case), baseline)


def _state(reasons: tuple[Reason, ...]) -> State:
    weights = {reason.weight for reason in reasons}
    return next(state for state in STATES if state in weights or state == "serviceable")


def _step(case: Case, state: State, reasons: tuple[Reason, ...]) -> NextStep:
    if case.device.retired_on is not None:
        return NextStep("none", "Nothing: it is out of service for good.")
    return next_step(case, state, reasons)


def _gravity(reason: Reason) -> int:
    return (*STATES[:-1], "note").index(reason.weight)
