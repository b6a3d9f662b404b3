"""Intakes of a night and how far each of their files has come."""

from __future__ import annotations

from django.db.models import Count, Q, QuerySet

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.disclosure.policy import NightStaff
from measurements.models import Intake, IntakeFile, Night, NightOperator
from measurements.queries.rows_of_nights import IntakeFileRow, IntakeRow, IntakeSummaryRow

WAITING = IntakeFile.State.WAITING
REFUSED = IntakeFile.State.REFUSED


def one(viewer: Viewer, key: str) -> IntakeRow:
    """An intake with a row per file. Raises BenchnightError `intake.not_found` to all but its night's."""
    policy.check_operator(viewer)
    intake = _counted(Intake.objects.select_related("night")).filter(key=key).first()
    if intake is None:
        raise policy.missing("intake")
    staff = NightStaff(NightOperator.objects.of_night(intake.night_id))
    if not policy.can_see_night(viewer, staff):
        raise policy.missing("intake")
    files = IntakeFile.objects.filter(intake=intake).order_by("number")
    rows = files.values_list("name", "number", "state", "reason", "test__key", "assignment")
    return IntakeRow(
        key=intake.key,
        night=intake.night.key,
        made_at=intake.made_at,
        state=intake.state,
        done=intake.total - intake.waiting,  # type: ignore[attr-defined]  # annotated
        total=intake.total,  # type: ignore[attr-defined]
        files=tuple(IntakeFileRow(*row) for row in rows),
    )


def of_night(night: Night) -> tuple[IntakeSummaryRow, ...]:
    """Every intake of a night, the newest first."""
    rows = _counted(Intake.objects.filter(night=night)).order_by("-made_at", "-key")
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


def _counted(intakes: QuerySet[Intake]) -> QuerySet[Intake]:
    return intakes.annotate(
        total=Count("files"),
        waiting=Count("files", filter=Q(files__state=WAITING)),
        refused=Count("files", filter=Q(files__state=REFUSED)),
    )
