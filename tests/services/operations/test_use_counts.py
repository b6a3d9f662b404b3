"""One atomic statement counts, on both engines."""

from __future__ import annotations

import sqlite3
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import OperationalError, connection

from measurements.models import UseCount
from measurements.services.operations import use_counts


@pytest.mark.django_db
def test_uses_are_counted_per_key_and_window():
    answers = [use_counts.count_use("a", limit=2, window_s=60, now=1000.0 + step) for step in range(3)]
    assert [answer.allowed for answer in answers] == [True, True, False]
    assert [answer.remaining for answer in answers] == [1, 0, 0]
    assert answers[0].reset_s == 20  # the window 960 to 1020
    assert use_counts.count_use("b", limit=2, window_s=60, now=1000.0).allowed
    assert use_counts.count_use("a", limit=2, window_s=60, now=1020.0).allowed


@pytest.mark.django_db
def test_old_windows_are_forgotten():
    use_counts.count_use("a", limit=1, window_s=60, now=1000.0)
    use_counts.count_use("a", limit=1, window_s=60, now=9000.0)
    assert use_counts.delete_counts_before(5000.0) == 1
    assert UseCount.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_parallel_uses_do_not_slip_through():
    """60 parallel uses of a limit of 10 let exactly 10 through (the trap that this room exists for)."""

    def use(_: int) -> bool:
        try:
            return use_counts.count_use("a", limit=10, window_s=3600, now=7200.0).allowed
        finally:
            connection.close()

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(use, range(60))) == 10


@pytest.mark.django_db
def test_a_full_disk_lifts_no_limit(monkeypatch):
    """What is stored already counts; the rest is counted in the process."""
    monkeypatch.setattr(use_counts, "_unstored", {})
    assert use_counts.count_use("a", limit=3, window_s=60, now=1000.0).remaining == 2

    def no_room(*_):
        cause = sqlite3.OperationalError()
        cause.sqlite_errorcode = sqlite3.SQLITE_FULL
        raise OperationalError from cause

    monkeypatch.setattr(use_counts, "_count_in_database", no_room)
    answers = [use_counts.count_use("a", limit=3, window_s=60, now=1001.0) for _ in range(3)]
    assert [answer.remaining for answer in answers] == [1, 0, 0]
    assert [answer.allowed for answer in answers] == [True, True, False]
    monkeypatch.setattr(use_counts, "MOST_UNSTORED", 1)
    use_counts.count_use("b", limit=3, window_s=60, now=1001.0)
    assert len(use_counts._unstored) == 1
