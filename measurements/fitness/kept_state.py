"""A service state that a table keeps: what lists show, and until when it holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from measurements.fitness.due_dates import compute_next_change
from measurements.fitness.service_facts import ServiceCase
from measurements.fitness.service_state import assess_device


@dataclass(frozen=True)
class KeptState:
    """A state of `judged_on`. codes: of its reasons, the gravest first; reason: the gravest in words.

    newest_on: day of the newest test that counts. next_change_on: first day on which it may change by itself.
    repeats: kind -> digest of how well tests repeat, for the kinds that the state asked for.
    """

    state: str
    codes: tuple[str, ...]
    reason: str
    next_step: str
    due_on: date | None
    newest_on: date | None
    next_change_on: date | None
    judged_on: date
    repeats: Mapping[str, str]


def judge_kept_state(case: ServiceCase, digests: Mapping[str, str]) -> KeptState:
    """Judge a device for keeping. digests: filled by `case.yardstick` with the kinds that it uses."""
    judged = assess_device(case)
    newest = case.device.newest(*case.device.telling)
    return KeptState(
        state=judged.state,
        codes=tuple(reason.code for reason in judged.reasons),
        reason=judged.reasons[0].message,
        next_step=judged.next_step.message,
        due_on=judged.due_on,
        newest_on=None if newest is None else newest.measured_on,
        next_change_on=compute_next_change(case),
        judged_on=case.on,
        repeats=dict(digests),
    )
