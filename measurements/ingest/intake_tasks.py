"""The background task of an intake. TASKS (deploy/settings.py) says where it runs."""

from __future__ import annotations

from functools import partial

from django.db import transaction
from django_tasks import task

from measurements.ingest import intake_work


@task()
def work_on(intake: str) -> None:
    """Works on one intake; harmless where another worker does already, or it is done."""
    intake_work.run(intake=intake)


def enqueue(intake: str) -> None:
    """Has a worker take the intake up, once what was just written is committed."""
    transaction.on_commit(partial(work_on.enqueue, intake))
