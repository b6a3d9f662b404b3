"""The database that tests run on: a SQLite file of this process, or the PostgreSQL that is given.

SQLite is a file, not memory: only a file has the write-ahead log and the locks that the server has.
"""

from __future__ import annotations

import os

import pytest

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
