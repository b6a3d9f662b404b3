"""The database that tests run on: a SQLite file of this process, or the PostgreSQL that is given.

SQLite is a file, not memory: only a file has the write-ahead log and the locks that the server has.

Every test finds the rows of the migrations and the reference data. A test with transactions of its own ends
with empty tables; those rows are put back after it: the tests after it see what the tests before it saw.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Any

import pytest
from pytest_django.plugin import blocking_manager_key

from deploy import postgresql as postgresql_module


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Give SQLite a file in this run's own directory, so that two runs at once do not meet."""
    from django.conf import settings

    default = settings.DATABASES["default"]
    if default["ENGINE"].endswith("sqlite3"):
        default.setdefault("TEST", {})["NAME"] = str(tmp_path_factory.mktemp("database") / "test.sqlite3")


_first_rows: list[tuple[Any, list[Any]]] = []


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """Load the reference data once into the database that the migrations made, and remember all its rows."""
    from django.apps import apps

    from measurements.services.reference import reference_files
    from tests import scenes

    with django_db_blocker.unblock():
        reference_files.load_reference_data()
        for model in apps.get_app_config("measurements").get_models(include_auto_created=True):
            if model._meta.managed and (rows := list(model._base_manager.all())):
                _first_rows.append((model, rows))
    yield
    with django_db_blocker.unblock():
        scenes.leave_last()


def is_set_up() -> bool:
    """Tell whether the database of the tests exists by now."""
    return bool(_first_rows)


@pytest.hookimpl(wrapper=True)
def pytest_runtest_teardown(item: pytest.Item, nextitem: pytest.Item | None) -> Iterator[None]:
    result = yield
    # after the last test the database is gone
    if nextitem is not None and _first_rows and has_own_transactions(item):
        with item.config.stash[blocking_manager_key].unblock():
            _put_back_first_rows()
    return result


def has_own_transactions(item: pytest.Item) -> bool:
    """Tell whether the test commits, and pytest-django therefore empties all tables after it."""
    marked = item.get_closest_marker("django_db")
    if marked and (marked.kwargs.get("transaction") or marked.args[:1] == (True,)):
        return True
    return not {"transactional_db", "live_server"}.isdisjoint(item.fixturenames)


def _put_back_first_rows() -> None:
    from django.db import connection, transaction

    with transaction.atomic(), connection.constraint_checks_disabled():
        for model, rows in _first_rows:
            if not model._base_manager.exists():  # a test that was skipped emptied nothing
                model._base_manager.bulk_create(rows)


@pytest.fixture(scope="session")
def postgresql():
    """A running PostgreSQL (`.new_database()` answers the URL of an empty one).

    The server that deploy/check brought is used when there is one.
    """
    from urllib.parse import unquote, urlsplit

    url = os.environ.get("BENCHNIGHT_DATABASE_URL", "")
    if url.startswith("postgresql://") and "%2F" in url:
        parts = urlsplit(url)
        socket_directory = unquote(parts.netloc.rpartition("@")[2])
        yield postgresql_module.Server(socket_directory, parts.username or "postgres")
        return
    with postgresql_module.run_server() as server:
        yield server
