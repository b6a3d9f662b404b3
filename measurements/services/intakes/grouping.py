"""What the lines of one unit say together: one test, of one device, with one wiring."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Max

from measurements.errors import BenchnightError
from measurements.models import Intake, IntakeFile
from measurements.services.intakes import manifests
from measurements.services.uploads.uploads import (
    PAIR_ROLE,
    ROLES,
    SETTING_NAMES,
    TestSettings,
    parse_settings,
)

SHARED_COLUMNS = ("tag", "contributor", "kind", "method", "ratio", *manifests.OPTIONAL_COLUMNS)


@dataclass(frozen=True)
class UnitAssignment:
    """A unit's lines made one. Texts that were not given are empty; measured_on None: the night's day.

    new_device: "yes", "no" or nothing, see `manifests.NEW_DEVICE`.
    settings: without a ratio of its own where `ratio_given` is False: the design knows it then.
    """

    tag: str
    contributor: str
    design: str
    measured_on: date | None
    settings: TestSettings
    ratio_given: bool
    roles: tuple[str, ...]
    new_device: str = ""


def get_line_identity(assignment: Mapping[str, Any]) -> tuple[str, ...]:
    """Return files that agree in this belong to one test, as long as each has another role."""
    names = ("tag", "contributor", "kind", "method")
    return tuple(_get_text(assignment, name).casefold() for name in names)


def get_line_role(assignment: Mapping[str, Any]) -> str:
    """Return the role of a line: `sweep` where it says nothing."""
    return _get_text(assignment, "role") or "sweep"


def combine_lines(assignments: Sequence[Mapping[str, Any]]) -> UnitAssignment:
    """Return one unit's lines as one test.

    Raises BenchnightError naming line and column: a value that is none, or two that contradict each other.
    """
    shared = {name: _get_agreed_value(assignments, name) for name in SHARED_COLUMNS}
    for name, what in (("tag", "the tag on the device"), ("kind", "what was tested")):
        if not shared[name]:
            raise _build_line_error(assignments[0], name, "intake.missing", f"Give {what}.")
    roles = tuple(_parse_role(assignment) for assignment in assignments)
    given = {name: text for name, text in shared.items() if name in SETTING_NAMES and text}
    try:
        settings = parse_settings(given)
    except BenchnightError as error:
        first = error.errors[0]
        raise _build_line_error(assignments[0], first.field or "kind", first.code, first.detail) from error
    return UnitAssignment(
        tag=shared["tag"],
        contributor=shared["contributor"],
        design=shared["design"],
        measured_on=_parse_day(assignments[0], shared["measured_on"]),
        settings=settings,
        ratio_given=bool(shared["ratio"]),
        roles=roles,
        new_device=shared[manifests.NEW_DEVICE].casefold(),
    )


def _get_agreed_value(assignments: Sequence[Mapping[str, Any]], name: str) -> str:
    """Return the value that all lines which have one agree in."""
    agreed = ""
    for assignment in assignments:
        text = _get_text(assignment, name)
        if agreed and text and text.casefold() != agreed.casefold():
            raise _build_line_error(
                assignment,
                name,
                "intake.contradiction",
                f"This says {text!r}, another file of the same test {agreed!r}.",
            )
        agreed = agreed or text
    return agreed


def _parse_role(assignment: Mapping[str, Any]) -> str:
    role = get_line_role(assignment)
    if role in ROLES or PAIR_ROLE.match(role):
        return role
    raise _build_line_error(
        assignment, "role", "test.unknown_file", f"Choose one of: {', '.join(ROLES)}, pair_ab, pair_ac, ..."
    )


def _parse_day(assignment: Mapping[str, Any], text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise _build_line_error(
            assignment, "measured_on", "field.date", "Give a day as YYYY-MM-DD."
        ) from error


def _get_text(assignment: Mapping[str, Any], name: str) -> str:
    return " ".join(str(assignment.get(name) or "").split())


def _build_line_error(assignment: Mapping[str, Any], column: str, code: str, detail: str) -> BenchnightError:
    line = assignment.get(manifests.LINE_KEY)
    return BenchnightError(code, detail, field=column, line=line if isinstance(line, int) else None)


# Which files of an intake make one test: those of one tag, owner, kind and method, each in another role.
#
# A role that a unit has already begins the next one: two plain sweeps of one device are two tests.


def number_units(lines: Sequence[Mapping[str, Any]]) -> list[int]:
    """Return a unit's number for every line, from 1, in the order in which units begin."""
    numbers: list[int] = []
    open_units: dict[tuple[str, ...], tuple[int, set[str]]] = {}
    last = 0
    for line in lines:
        identity, role = get_line_identity(line), get_line_role(line)
        unit, roles = open_units.get(identity, (0, set()))
        # without a tag or a kind there is nothing to belong together by
        if unit == 0 or role in roles or not (identity[0] and identity[2]):
            last += 1
            unit, roles = last, set()
        open_units[identity] = unit, roles | {role}
        numbers.append(unit)
    return numbers


def requeue_refused_files(intake: Intake, numbers: Collection[int]) -> None:
    """Has refused files wait again, with every other refused file that belongs to the same test.

    They are grouped anew, because their lines may have changed. Call inside a transaction.
    """
    refused = list(intake.files.filter(state=IntakeFile.State.REFUSED).order_by("number"))
    wanted = {get_line_identity(file.assignment) for file in refused if file.number in numbers}
    again = [
        file
        for file in refused
        if file.number in numbers
        or (_has_tag_and_kind(file) and get_line_identity(file.assignment) in wanted)
    ]
    last = intake.files.aggregate(last=Max("unit"))["last"] or 0
    for file, unit in zip(again, number_units([file.assignment for file in again]), strict=True):
        IntakeFile.objects.filter(pk=file.pk).update(
            unit=last + unit, state=IntakeFile.State.WAITING, reason="", question={}
        )


def list_refused_with(intake: Intake, file: IntakeFile) -> list[IntakeFile]:
    """Return the refused files of the same test, `file` among them."""
    return list(intake.files.filter(unit=file.unit, state=IntakeFile.State.REFUSED).order_by("number"))


def _has_tag_and_kind(file: IntakeFile) -> bool:
    tag, _, kind, _ = get_line_identity(file.assignment)
    return bool(tag and kind)
