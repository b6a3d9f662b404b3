"""Keeps service states that `selectors.upkeep.kept_states` judged, so that lists need not judge devices.

A change notes itself by trigger in its own transaction (migration 0029). One process at a time judges and
keeps, in one transaction: what is noted is read before the facts, and only what was read is taken away. So
a change that commits meanwhile stays noted, and a process that dies in between leaves the note.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from typing import Protocol

from django.db import connection, transaction
from django.db.models import Exists, OuterRef

from measurements.fitness.kept_state import KeptState
from measurements.models import Device, DeviceState, StateChange
from measurements.models.kept_states import JudgingStandard

PORTION = 500  # row numbers of one statement: SQLite takes some thousand parameters
ONE_AT_A_TIME = 0x62656E63  # number of the advisory lock
MOST_STEPS = 10_000  # of one run: a million devices


class Judged(Protocol):
    """What one step judged; see `selectors.upkeep.kept_states.JudgedStates`."""

    @property
    def states(self) -> Mapping[int, KeptState]: ...
    @property
    def standard(self) -> JudgingStandard: ...
    @property
    def seen(self) -> Collection[int]: ...
    @property
    def unmoved(self) -> Collection[int]: ...
    @property
    def moved(self) -> Collection[int]: ...


def keep_waiting_states(judge: Callable[[], Judged], *, most_steps: int = MOST_STEPS) -> int:
    """Judge and keep, step by step, until nothing waits; answers how many devices were judged.

    judge: `kept_states.judge_waiting_devices`; this room may not read what selectors read. most_steps: a
    page that a reader waits for takes few. Stops where another process is at it.
    """
    count = 0
    for _ in range(most_steps):
        with transaction.atomic():
            if not _enter_alone():
                break
            judged = judge()
            _keep(judged)
        count += len(judged.states)
        if not (judged.states or judged.seen or judged.moved or judged.unmoved):
            break
    return count


def _enter_alone() -> bool:
    """Tell whether this transaction is the one that judges. On SQLite every writing transaction is alone."""
    if connection.vendor != "postgresql":
        return True
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_try_advisory_xact_lock(%s)", [ONE_AT_A_TIME])
        return bool(cursor.fetchone()[0])


def _keep(judged: Judged) -> None:
    StateChange.objects.bulk_create(
        (StateChange(device_number=device) for device in judged.moved), batch_size=PORTION
    )
    for portion in _cut(judged.unmoved):
        DeviceState.objects.filter(device__in=portion).update(pool=judged.standard.pool)
    there = set(Device.objects.filter(pk__in=judged.states).values_list("pk", flat=True))
    DeviceState.objects.bulk_create(
        (
            _build_row(device, state, judged.standard)
            for device, state in judged.states.items()
            if device in there
        ),
        update_conflicts=True,
        unique_fields=["device"],
        update_fields=_COLUMNS,
        batch_size=PORTION,
    )
    for portion in _cut(judged.seen):
        StateChange.objects.filter(pk__in=portion).delete()
    gone = Device.objects.filter(pk=OuterRef("device_number"))
    StateChange.objects.filter(~Exists(gone), contributor_number=None).delete()


_COLUMNS = [field.name for field in DeviceState._meta.concrete_fields if field.name not in ("id", "device")]


def _build_row(device: int, state: KeptState, standard: JudgingStandard) -> DeviceState:
    return DeviceState(
        device_id=device,
        state=state.state,
        codes=list(state.codes),
        reason=state.reason,
        next_step=state.next_step,
        due_on=state.due_on,
        newest_on=state.newest_on,
        next_change_on=state.next_change_on,
        judged_on=state.judged_on,
        standard=standard.digest,
        repeats=dict(state.repeats),
        asks_repeats=bool(state.repeats),
        pool=standard.pool,
    )


def _cut(numbers: Iterable[int]) -> Iterator[list[int]]:
    every = list(numbers)
    return (every[start : start + PORTION] for start in range(0, len(every), PORTION))
