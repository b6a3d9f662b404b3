"""Where background tasks run: on SQLite in a thread of the one serving process, on PostgreSQL in workers.

SQLite is safe with one process that writes, so there is no worker beside it: a task begins as soon as what
it works on is committed, and the request that asked for it is answered meanwhile. A server that stops, or is
killed, loses the queue and nothing else: unfinished intakes are taken up again at the next start.
"""

from __future__ import annotations

import logging
import queue
import threading
import time
from typing import Any

from django.db import connections
from django.utils import timezone
from django_tasks.backends.immediate import ImmediateBackend
from django_tasks.base import Task, TaskResult, TaskResultStatus
from django_tasks.utils import get_random_id

logger = logging.getLogger(__name__)

MOST_WAITING = 1000


class ThreadBackend(ImmediateBackend):
    """Runs tasks one after another in a single thread, which begins with the first of them."""

    _waiting: queue.Queue[TaskResult] = queue.Queue(MOST_WAITING)
    _starting = threading.Lock()
    _thread: threading.Thread | None = None

    def enqueue(self, task: Task, args: Any, kwargs: Any) -> TaskResult:
        self.validate_task(task)
        result: TaskResult = TaskResult(
            task=task,
            id=get_random_id(),
            status=TaskResultStatus.READY,
            enqueued_at=None,
            started_at=None,
            last_attempted_at=None,
            finished_at=None,
            args=args,
            kwargs=kwargs,
            backend=self.alias,
            errors=[],
            worker_ids=[],
        )
        try:
            ThreadBackend._waiting.put_nowait(result)
        except queue.Full:
            logger.error("Too many tasks are waiting; this one is left for resume_intakes")
        self._begin()
        return result

    @classmethod
    def _begin(cls) -> None:
        with cls._starting:
            if cls._thread is None or not cls._thread.is_alive():
                # a daemon: a server that stops does not wait for a whole night's files
                cls._thread = threading.Thread(target=cls._work, name="background tasks", daemon=True)
                cls._thread.start()

    @classmethod
    def _work(cls) -> None:
        while True:
            result = cls._waiting.get()
            try:
                result.task.call(*result.args, **result.kwargs)
                _finish_result(result, TaskResultStatus.SUCCESSFUL)
            except Exception:
                logger.exception("A background task failed: %s", result.task.name)
                _finish_result(result, TaskResultStatus.FAILED)
            finally:
                connections.close_all()


def _finish_result(result: TaskResult, status: TaskResultStatus) -> None:
    """Set the outcome of a result, which is a frozen row for everybody else."""
    object.__setattr__(result, "finished_at", timezone.now())
    object.__setattr__(result, "status", status)


def resume_unfinished_intakes() -> None:
    """Take up what an earlier process left, in a thread that ends when nothing is left to wait for."""
    threading.Thread(target=_resume, name="resume intakes", daemon=True).start()


def _resume() -> None:
    from measurements.services.bundles import processing
    from measurements.services.intakes import intakes, leases

    try:
        while intakes.has_unfinished_intakes() or processing.has_unfinished_imports():
            intakes.resume_stale_intakes()
            processing.resume_stale_imports()
            # the worker of the process before us counts as alive until its lease is over
            time.sleep(leases.LEASE_DURATION.total_seconds())
    except Exception:
        logger.exception("Unfinished intakes or bundles could not be taken up; run manage.py resume_intakes")
    finally:
        connections.close_all()


JUDGED_EVERY_S = 60


def keep_service_states() -> None:
    """Judge each minute the devices whose kept state no longer holds. On PostgreSQL a timer does it."""
    from django.db import connection

    if connection.vendor == "sqlite":
        threading.Thread(target=_keep_states, name="service states", daemon=True).start()


def _keep_states() -> None:
    while True:
        try:
            keep_waiting_states_once()
        except Exception:
            logger.exception("Service states could not be judged; run manage.py judge_states")
        finally:
            connections.close_all()
        time.sleep(JUDGED_EVERY_S)


def keep_waiting_states_once() -> int:
    """Judge what waits; answers how many devices. Others may write between two steps."""
    from measurements.selectors.upkeep import kept_states
    from measurements.services.upkeep import state_keeping

    if not kept_states.has_work():
        return 0
    return state_keeping.keep_waiting_states(kept_states.judge_waiting_devices)
