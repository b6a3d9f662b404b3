"""What the embedded database promises, asked of connections themselves."""

import select
import sqlite3
import threading

import pytest
from django.db import connection, connections, transaction

from deploy import databases


@pytest.fixture
def only_sqlite():
    if connection.vendor != "sqlite":
        pytest.skip("these are promises about SQLite")


def pragma(name: str):
    with connection.cursor() as cursor:
        return cursor.execute(f"PRAGMA {name}").fetchone()[0]


@pytest.mark.usefixtures("only_sqlite")
@pytest.mark.django_db
def test_the_pragmas_are_in_force_on_a_connection():
    assert pragma("journal_mode") == "wal"
    assert pragma("synchronous") == 2, "2 is FULL"
    assert pragma("mmap_size") == 0
    assert pragma("foreign_keys") == 1
    assert pragma("busy_timeout") == databases.SQLITE_TIMEOUT_S * 1000
    assert connection.transaction_mode == "IMMEDIATE"


@pytest.mark.usefixtures("only_sqlite")
@pytest.mark.django_db(transaction=True)
def test_a_transaction_takes_the_write_lock_when_it_begins():
    """A deferred one would fail where it reads first and another connection writes in between."""
    path = connection.settings_dict["NAME"]
    with transaction.atomic():
        other = sqlite3.connect(path, timeout=0)
        try:
            with pytest.raises(sqlite3.OperationalError, match="locked"):
                other.execute("BEGIN IMMEDIATE")
        finally:
            other.close()


@pytest.mark.django_db(transaction=True)
def test_read_then_write_from_many_threads_loses_nothing():
    """Eight threads count up in one row, each reading before it writes; every increment is there."""
    with connection.cursor() as cursor:
        cursor.execute("CREATE TABLE probe_counter (n integer NOT NULL)")
        cursor.execute("INSERT INTO probe_counter VALUES (0)")
    lock = "" if connection.vendor == "sqlite" else " FOR UPDATE"
    failures: list[BaseException] = []

    def count() -> None:
        try:
            for _ in range(10):
                with transaction.atomic(), connection.cursor() as cursor:
                    cursor.execute("SELECT n FROM probe_counter" + lock)
                    (value,) = cursor.fetchone()
                    cursor.execute("UPDATE probe_counter SET n = %s", [value + 1])
        except BaseException as failure:  # noqa: BLE001 handed to the test's own thread
            failures.append(failure)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=count) for _ in range(8)]
    try:
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert failures == []
        with connection.cursor() as cursor:
            cursor.execute("SELECT n FROM probe_counter")
            assert cursor.fetchone() == (80,)
    finally:
        with connection.cursor() as cursor:
            cursor.execute("DROP TABLE probe_counter")


def test_the_brought_postgresql_answers(postgresql):
    import psycopg

    with psycopg.connect(postgresql.new_database()) as opened:
        version = opened.execute("SHOW server_version_num").fetchone()
    assert version is not None
    assert int(version[0]) >= 140000


@pytest.fixture
def another_connection():
    """One more connection to a PostgreSQL database, and the statements that Django sends over it."""
    if connection.vendor != "postgresql":
        pytest.skip("how a kept connection to PostgreSQL is checked")
    other = connection.copy()
    other.ensure_connection()
    yield other
    other.close()


def backend_of(other) -> int:
    with other.cursor() as cursor:
        return cursor.execute("SELECT pg_backend_pid()").fetchone()[0]


def waits_for_something_to_read(other) -> None:
    assert select.select([other.connection.pgconn.socket], [], [], 10.0)[0]


@pytest.mark.django_db(transaction=True)
def test_a_connection_that_the_server_closed_is_not_used(another_connection):
    number = backend_of(another_connection)
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_terminate_backend(%s)", [number])
    waits_for_something_to_read(another_connection)
    assert not another_connection.is_usable()


@pytest.mark.django_db(transaction=True)
def test_a_connection_on_which_something_waits_is_asked(another_connection):
    with another_connection.cursor() as cursor:
        cursor.execute("LISTEN probe")
    with connection.cursor() as cursor:
        cursor.execute("NOTIFY probe")
    waits_for_something_to_read(another_connection)
    assert another_connection.is_usable()
    with connection.cursor() as cursor:
        asked = "SELECT query FROM pg_stat_activity WHERE pid = %s"
        number = another_connection.connection.info.backend_pid
        assert cursor.execute(asked, [number]).fetchone()[0] == "SELECT 1"
