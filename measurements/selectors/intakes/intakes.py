"""Intakes of a night and how far each of their files has come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Count, Q, QuerySet

from measurements.disclosure import policy
from measurements.disclosure.policy import NightStaff
from measurements.disclosure.viewers import Viewer
from measurements.models import Intake, IntakeFile, Night, NightOperator


@dataclass(frozen=True)
class IntakeSummaryRow:
    """An intake of a night in one line."""

    key: str
    made_at: datetime
    state: str
    done: int
    total: int
    refused: int


@dataclass(frozen=True)
class IntakeFileRow:
    """A file of an intake. state: waiting, stored, already_there, refused (with its reason).

    number: its place in the intake, from 1; what `intakes.mend` takes. assignment: the manifest's columns.
    question: what a refused file waits for an answer to: code, group, answer; empty without a question.
    """

    file: str
    number: int
    state: str
    reason: str
    test: str | None
    assignment: dict[str, Any]
    question: dict[str, Any]


@dataclass(frozen=True)
class IntakeRow:
    """An intake. done: files that have ended, whichever way. state: queued, running, done."""

    key: str
    night: str
    made_at: datetime
    state: str
    done: int
    total: int
    files: tuple[IntakeFileRow, ...]


WAITING = IntakeFile.State.WAITING

REFUSED = IntakeFile.State.REFUSED


def get_intake(viewer: Viewer, key: str) -> IntakeRow:
    """Return an intake with a row per file. Raises BenchnightError `intake.not_found` to all but its
    night's.
    """
    policy.check_operator(viewer)
    intake = _counted_intakes(Intake.objects.select_related("night")).filter(key=key).first()
    if intake is None:
        raise policy.build_not_found("intake")
    staff = NightStaff(NightOperator.objects.of_night(intake.night_id))
    if not policy.can_see_night(viewer, staff):
        raise policy.build_not_found("intake")
    files = IntakeFile.objects.filter(intake=intake).order_by("number")
    rows = files.values_list("name", "number", "state", "reason", "test__key", "assignment", "question")
    return IntakeRow(
        key=intake.key,
        night=intake.night.key,
        made_at=intake.made_at,
        state=intake.state,
        done=intake.total - intake.waiting,  # type: ignore[attr-defined]  # annotated
        total=intake.total,  # type: ignore[attr-defined]
        files=tuple(IntakeFileRow(*row) for row in rows),
    )


def list_intakes_of_night(night: Night) -> tuple[IntakeSummaryRow, ...]:
    """Return every intake of a night, the newest first."""
    rows = _counted_intakes(Intake.objects.filter(night=night)).order_by("-made_at", "-key")
    return tuple(
        IntakeSummaryRow(
            key=row.key,
            made_at=row.made_at,
            state=row.state,
            done=row.total - row.waiting,  # type: ignore[attr-defined]
            total=row.total,  # type: ignore[attr-defined]
            refused=row.refused,  # type: ignore[attr-defined]
        )
        for row in rows
    )


def _counted_intakes(intakes: QuerySet[Intake]) -> QuerySet[Intake]:
    return intakes.annotate(
        total=Count("files"),
        waiting=Count("files", filter=Q(files__state=WAITING)),
        refused=Count("files", filter=Q(files__state=REFUSED)),
    )
