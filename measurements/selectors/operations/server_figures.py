"""Figures for a monitor of the server: counts and ages, and nothing of any person, device or design.

Every figure is one aggregate over an index; a monitor asks once a minute or oftener.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Min, Q
from django.utils import timezone
from django_tasks.base import TaskResultStatus
from django_tasks_db.models import DBTaskResult

from measurements.models import AuditEntry, Intake, IntakeFile, Release, Result, Test
from measurements.rf.analysis import ENGINE_VERSION


@dataclass(frozen=True)
class ServerFigures:
    """Ages in seconds, None where there is nothing that could be old.

    to_recompute: tests without a result of this engine. intake_oldest_s: since the oldest unfinished intake
    was handed in. tasks_*: on PostgreSQL only; on SQLite the server works on intakes itself.
    """

    tests: int
    to_recompute: int
    intakes: int
    intake_files_waiting: int
    intake_oldest_s: float | None
    tasks_waiting: int
    tasks_failed: int
    task_oldest_s: float | None
    release: int | None
    release_age_s: float | None


def get_server_figures() -> ServerFigures:
    """Return the figures of this moment, in six queries."""
    moment = timezone.now()
    stored = Test.objects.count()
    computed = Result.objects.filter(engine_version=ENGINE_VERSION).count()
    unfinished = Intake.objects.exclude(state=Intake.State.DONE)
    intakes = unfinished.aggregate(count=Count("pk"), oldest=Min("made_at"))
    files = IntakeFile.objects.filter(intake__in=unfinished, state=IntakeFile.State.WAITING).count()
    ready = Q(status=TaskResultStatus.READY)
    tasks = DBTaskResult.objects.order_by().aggregate(
        waiting=Count("pk", filter=ready),
        oldest=Min("enqueued_at", filter=ready),
        failed=Count("pk", filter=Q(status=TaskResultStatus.FAILED)),
    )
    release = Release.objects.order_by("-number").values_list("number", "made_at").first()
    number, made_at = release or (None, None)
    return ServerFigures(
        tests=stored,
        to_recompute=stored - computed,
        intakes=intakes["count"],
        intake_files_waiting=files,
        intake_oldest_s=_age_s(intakes["oldest"], moment),
        tasks_waiting=tasks["waiting"],
        tasks_failed=tasks["failed"],
        task_oldest_s=_age_s(tasks["oldest"], moment),
        release=number,
        release_age_s=_age_s(made_at, moment),
    )


def _age_s(since: datetime | None, moment: datetime) -> float | None:
    """Return a clock that was set back makes nothing younger than new."""
    return None if since is None else max(0.0, (moment - since).total_seconds())


def get_newest_entry_time() -> datetime | None:
    """Return the time of the newest line of the log; None where nothing was done yet."""
    return AuditEntry.objects.order_by("-pk").values_list("at", flat=True).first()
