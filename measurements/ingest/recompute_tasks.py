"""Recomputation by the workers. TASKS (deploy/settings.py) says where they run: on PostgreSQL on any host."""

from __future__ import annotations

from django_tasks import task

from measurements.ingest import recompute

PORTION = 2048  # tests of one task: some seconds of work, so that hosts share even a small group's tests


@task()
def bring_up(first: int, last: int) -> int:
    """Computes the tests between two row numbers that still wait; harmless where another worker did."""
    return recompute.bring_up_to_date(span=(first, last))


def enqueue(portion: int = PORTION) -> int:
    """Hands everything that waits to the workers; answers in how many portions."""
    spans = recompute.spans(portion)
    for first, last in spans:
        bring_up.enqueue(first, last)
    return len(spans)
