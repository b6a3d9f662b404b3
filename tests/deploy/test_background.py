"""Tasks on SQLite: begun at once in a thread of their own, one after another, whatever becomes of one."""

from __future__ import annotations

import threading
import time

import pytest
from django.conf import settings
from django_tasks import task
from django_tasks.base import TaskResultStatus

from deploy.background import ThreadBackend

SEEN: list[tuple[int, str]] = []
GO_ON = threading.Event()


@task()
def noted(number: int) -> None:
    GO_ON.wait(10)
    SEEN.append((number, threading.current_thread().name))
    if number == 2:
        raise ZeroDivisionError


@pytest.fixture
def backend() -> ThreadBackend:
    SEEN.clear()
    GO_ON.clear()
    return ThreadBackend("default", {})


def finished(results, seconds: float = 10) -> bool:
    until = time.monotonic() + seconds
    while time.monotonic() < until and not all(result.is_finished for result in results):
        time.sleep(0.01)
    return all(result.is_finished for result in results)


def test_they_run_in_order_beside_the_request(backend, caplog):
    results = [backend.enqueue(noted, [number], {}) for number in (1, 2, 3)]
    assert SEEN == []  # whoever enqueued them was not kept waiting
    GO_ON.set()
    assert finished(results)
    assert [number for number, _ in SEEN] == [1, 2, 3]
    assert {name for _, name in SEEN} == {"background tasks"}
    assert [result.status for result in results] == [
        TaskResultStatus.SUCCESSFUL,
        TaskResultStatus.FAILED,
        TaskResultStatus.SUCCESSFUL,
    ]


def test_a_full_queue_is_left_for_the_timer(backend, monkeypatch, caplog):
    import queue

    class Full:
        def put_nowait(self, _item):
            raise queue.Full

    monkeypatch.setattr(ThreadBackend, "_waiting", Full())
    monkeypatch.setattr(ThreadBackend, "_begin", classmethod(lambda cls: None))
    backend.enqueue(noted, [1], {})
    assert "resume_intakes" in caplog.text


def test_in_tests_they_run_at_once():
    assert settings.TASKS["default"]["BACKEND"].endswith("ImmediateBackend")
