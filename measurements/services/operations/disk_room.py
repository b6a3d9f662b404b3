"""Tells a disk without room from a database that is away: waiting does not help, making room does."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

from django.db import DatabaseError

NO_ROOM_ERRNO = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})
# a disk, a quota, or a limit of file size of the process (sqlite.org/rescode.html)
NO_ROOM_SQLITE = frozenset({sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR_WRITE, sqlite3.SQLITE_IOERR_SHMSIZE})
NO_ROOM_POSTGRESQL = "53100"  # disk_full: appendix A of PostgreSQL's manual
RETRY_S = 60
NO_ROOM_DETAIL = (
    "The server has no room left to store anything, so nothing of this was stored. What was stored before is "
    "all there and can be read. Tell whoever runs this server, and send it again when there is room."
)


def is_disk_full(error: BaseException | None) -> bool:
    """Say whether this error, or what it was raised from, says that there was no room to write."""
    while error is not None:
        if isinstance(error, OSError) and error.errno in NO_ROOM_ERRNO:
            return True
        if getattr(error, "sqlite_errorcode", None) in NO_ROOM_SQLITE:
            return True
        if getattr(error, "sqlstate", None) == NO_ROOM_POSTGRESQL:
            return True
        error = error.__cause__
    return False


@contextmanager
def ignore_full_disk() -> Iterator[None]:
    """Yield a note beside the point of a request: where there is no room for it, it is left out."""
    try:
        yield
    except DatabaseError as error:
        if not is_disk_full(error):
            raise
