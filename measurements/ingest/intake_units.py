"""Which files of an intake make one test: those of one tag, owner, kind and method, each in another role.

A role that a unit has already begins the next one: two plain sweeps of one device are two tests.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from django.db.models import Max

from measurements.ingest import assignments
from measurements.models import Intake, IntakeFile


def numbered(lines: Sequence[Mapping[str, Any]]) -> list[int]:
    """A unit's number for every line, from 1, in the order in which units begin."""
    numbers: list[int] = []
    open_units: dict[tuple[str, ...], tuple[int, set[str]]] = {}
    last = 0
    for line in lines:
        identity, role = assignments.identity(line), assignments.role_of(line)
        unit, roles = open_units.get(identity, (0, set()))
        # without a tag or a kind there is nothing to belong together by
        if unit == 0 or role in roles or not (identity[0] and identity[2]):
            last += 1
            unit, roles = last, set()
        open_units[identity] = unit, roles | {role}
        numbers.append(unit)
    return numbers


def sent_again(intake: Intake, numbers: Collection[int]) -> None:
    """Has refused files wait again, with every other refused file that belongs to the same test.

    They are grouped anew, because their lines may have changed. Call inside a transaction.
    """
    refused = list(intake.files.filter(state=IntakeFile.State.REFUSED).order_by("number"))
    wanted = {assignments.identity(file.assignment) for file in refused if file.number in numbers}
    again = [
        file
        for file in refused
        if file.number in numbers or (_complete(file) and assignments.identity(file.assignment) in wanted)
    ]
    last = intake.files.aggregate(last=Max("unit"))["last"] or 0
    for file, unit in zip(again, numbered([file.assignment for file in again]), strict=True):
        IntakeFile.objects.filter(pk=file.pk).update(
            unit=last + unit, state=IntakeFile.State.WAITING, reason=""
        )


def together(intake: Intake, file: IntakeFile) -> list[IntakeFile]:
    """The refused files of the same test, `file` among them."""
    return list(intake.files.filter(unit=file.unit, state=IntakeFile.State.REFUSED).order_by("number"))


def _complete(file: IntakeFile) -> bool:
    tag, _, kind, _ = assignments.identity(file.assignment)
    return bool(tag and kind)
