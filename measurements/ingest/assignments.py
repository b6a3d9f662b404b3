"""What the lines of one unit say together: one test, of one device, with one wiring."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from measurements.errors import BenchnightError
from measurements.ingest import manifest
from measurements.ingest.uploads import PAIR_ROLE, ROLES, SETTING_NAMES, TestSettings, parse_settings

SHARED = ("tag", "contributor", "kind", "method", "ratio", *manifest.OPTIONAL)


@dataclass(frozen=True)
class Assigned:
    """A unit's lines made one. Texts that were not given are empty; measured_on None: the night's day.

    settings: without a ratio of its own where `ratio_given` is False: the design knows it then.
    """

    tag: str
    contributor: str
    design: str
    measured_on: date | None
    settings: TestSettings
    ratio_given: bool
    roles: tuple[str, ...]


def identity(assignment: Mapping[str, Any]) -> tuple[str, ...]:
    """Files that agree in this belong to one test, as long as each has another role."""
    names = ("tag", "contributor", "kind", "method")
    return tuple(_text(assignment, name).casefold() for name in names)


def role_of(assignment: Mapping[str, Any]) -> str:
    """The role of a line: `sweep` where it says nothing."""
    return _text(assignment, "role") or "sweep"


def together(assignments: Sequence[Mapping[str, Any]]) -> Assigned:
    """One unit's lines as one test.

    Raises BenchnightError naming line and column: a value that is none, or two that contradict each other.
    """
    shared = {name: _agreed(assignments, name) for name in SHARED}
    for name, what in (("tag", "the tag on the device"), ("kind", "what was tested")):
        if not shared[name]:
            raise _fault(assignments[0], name, "intake.missing", f"Give {what}.")
    roles = tuple(_role(assignment) for assignment in assignments)
    given = {name: text for name, text in shared.items() if name in SETTING_NAMES and text}
    try:
        settings = parse_settings(given)
    except BenchnightError as error:
        first = error.errors[0]
        raise _fault(assignments[0], first.field or "kind", first.code, first.detail) from error
    return Assigned(
        tag=shared["tag"],
        contributor=shared["contributor"],
        design=shared["design"],
        measured_on=_day(assignments[0], shared["measured_on"]),
        settings=settings,
        ratio_given=bool(shared["ratio"]),
        roles=roles,
    )


def _agreed(assignments: Sequence[Mapping[str, Any]], name: str) -> str:
    """The value that all lines which have one agree in."""
    agreed = ""
    for assignment in assignments:
        text = _text(assignment, name)
        if agreed and text and text.casefold() != agreed.casefold():
            raise _fault(
                assignment,
                name,
                "intake.contradiction",
                f"This says {text!r}, another file of the same test {agreed!r}.",
            )
        agreed = agreed or text
    return agreed


def _role(assignment: Mapping[str, Any]) -> str:
    role = role_of(assignment)
    if role in ROLES or PAIR_ROLE.match(role):
        return role
    raise _fault(
        assignment, "role", "test.unknown_file", f"Choose one of: {', '.join(ROLES)}, pair_ab, pair_ac, ..."
    )


def _day(assignment: Mapping[str, Any], text: str) -> date | None:
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise _fault(assignment, "measured_on", "field.date", "Give a day as YYYY-MM-DD.") from error


def _text(assignment: Mapping[str, Any], name: str) -> str:
    return " ".join(str(assignment.get(name) or "").split())


def _fault(assignment: Mapping[str, Any], column: str, code: str, detail: str) -> BenchnightError:
    line = assignment.get(manifest.LINE)
    return BenchnightError(code, detail, field=column, line=line if isinstance(line, int) else None)
