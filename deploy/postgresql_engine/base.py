"""Django's engine for PostgreSQL with one thing changed: how a kept connection is checked before it is used.

Django asks the server `SELECT 1` at the start of every request, a third of what a short reply takes. But a
server that is stopped or restarted closes its end, and that can be seen without asking: the socket of an idle
connection has nothing to read, unless it was closed or the server said something.
"""

from __future__ import annotations

import select
from typing import Any

from django.db.backends.postgresql import base
from psycopg.pq import ConnStatus


class DatabaseWrapper(base.DatabaseWrapper):
    """What Django looks for in the module that an ENGINE names."""

    def is_usable(self) -> Any:
        """Whether the connection can be used: at once where nothing came on it, else by asking the server."""
        if self.connection is not None and _is_silent(self.connection.pgconn):
            return True
        return super().is_usable()


def _is_silent(pgconn: Any) -> bool:
    """Whether an open connection has nothing to read, not even its end."""
    if pgconn.status != ConnStatus.OK:
        return False
    waiting = select.poll()
    waiting.register(pgconn.socket, select.POLLIN | select.POLLHUP | select.POLLERR)
    return not waiting.poll(0)
