"""Keeps the embedded database open for as long as the server runs.

Whoever closes SQLite's last connection takes the write-ahead log and its index away; the next request makes
them anew. Every request would pay for that, and on a disk that got full meanwhile even reading would fail.
"""

from __future__ import annotations

import sqlite3

from django.conf import settings

_held: list[sqlite3.Connection] = []


def begin() -> None:
    """Opens a connection that does nothing; none on PostgreSQL."""
    default = settings.DATABASES["default"]
    if not default["ENGINE"].endswith("sqlite3") or _held:
        return
    connection = sqlite3.connect(default["NAME"], check_same_thread=False)
    connection.execute("SELECT count(*) FROM sqlite_master").fetchone()  # maps the index of the log
    _held.append(connection)


def end() -> None:
    """Closes it, so that a server that stopped leaves one whole file behind."""
    while _held:
        _held.pop().close()
