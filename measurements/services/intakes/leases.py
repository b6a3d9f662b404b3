"""Who works on an intake, and until when that worker may be taken for alive.

Every step of the work renews the lease in its own transaction. A worker that was taken over finds so at
its next step and stores nothing more: two never work on one file.
"""

from __future__ import annotations

import os
import secrets
import socket
from datetime import datetime, timedelta

from django.db.models import Q
from django.utils import timezone

from measurements.models import Intake, IntakeFile

LEASE_DURATION = timedelta(
    seconds=30
)  # far above the slowest single test; a dead worker's intake waits so long


class LeaseLostError(Exception):
    """Another worker took this intake over; it says nothing about the files."""


def generate_worker_name() -> str:
    """Return a name for one run of the work, which tells an operator of the server where it ran."""
    return f"{socket.gethostname()[:32]}:{os.getpid()}:{secrets.token_hex(6)}"


def build_lapsed_filter(now: datetime) -> Q:
    """Return intakes without a lease that counts: none, run out, or farther ahead than one can be given.

    The last is left by a clock that was ahead and was set back: its dead worker would hold the intake until
    the old time comes again. A live one renews by today's clock at its next step, or finds itself taken over.
    """
    return Q(alive_until=None) | Q(alive_until__lt=now) | Q(alive_until__gt=now + 2 * LEASE_DURATION)


def take_lease(intake: str, worker: str) -> Intake | None:
    """Return the intake, when there is work on it and nobody alive does it."""
    now = timezone.now()
    unfinished = ~Q(state=Intake.State.DONE)
    taken = Intake.objects.filter(build_lapsed_filter(now), unfinished, key=intake).update(
        worker=worker, alive_until=now + LEASE_DURATION, state=Intake.State.RUNNING
    )
    return Intake.objects.select_related("night", "made_by").get(key=intake) if taken else None


def renew_lease(intake: Intake) -> None:
    """Call inside the transaction of a step. Raises LeaseLostError."""
    held = Intake.objects.filter(pk=intake.pk, worker=intake.worker).update(
        alive_until=timezone.now() + LEASE_DURATION
    )
    if not held:
        raise LeaseLostError


def finish_work(intake: Intake) -> bool:
    """End the work, unless a file waits again meanwhile. Call inside a transaction.

    Raises LeaseLostError.
    """
    renew_lease(intake)  # writes the row first: whoever mends a file waits for us, or we see its file
    if intake.files.filter(state=IntakeFile.State.WAITING).exists():
        return False
    Intake.objects.filter(pk=intake.pk).update(
        state=Intake.State.DONE, finished_at=timezone.now(), alive_until=None, worker=""
    )
    return True


def release_lease(intake: Intake) -> None:
    """Give an unfinished intake back at once, for a worker that stops or failed."""
    Intake.objects.filter(pk=intake.pk, worker=intake.worker).update(
        state=Intake.State.QUEUED, alive_until=None, worker=""
    )
