"""Counts uses against a limit in one atomic statement, so that parallel requests cannot slip through."""

from __future__ import annotations

import time
from dataclasses import dataclass

from django.db import connection

from measurements.models import UseCount

DAY_S = 24 * 3600


@dataclass(frozen=True)
class Allowance:
    """Whether this use is within the limit, and what to tell the client about the rest."""

    allowed: bool
    limit: int
    remaining: int
    reset_s: int


def take(key: str, *, limit: int, window_s: int, now: float | None = None) -> Allowance:
    """Counts one use of `key` in the current window of `window_s` seconds.

    One INSERT ... ON CONFLICT ... RETURNING, on SQLite and PostgreSQL alike. Windows are fixed, so a
    burst over a window's edge can reach twice the limit; that is accepted.
    """
    moment = time.time() if now is None else now
    window = int(moment // window_s) * window_s
    table = connection.ops.quote_name(UseCount._meta.db_table)
    with connection.cursor() as cursor:
        cursor.execute(
            f'INSERT INTO {table} ("key", "window", "uses") VALUES (%s, %s, 1) '  # noqa: S608  # no input in it
            f'ON CONFLICT ("key", "window") DO UPDATE SET "uses" = {table}."uses" + 1 RETURNING "uses"',
            [key[:128], window],
        )
        uses = cursor.fetchone()[0]
    reset_s = max(1, int(window + window_s - moment))
    return Allowance(uses <= limit, limit, max(0, limit - uses), reset_s)


def forget_before(moment: float) -> int:
    """Removes the windows that began before `moment` (a Unix time); answers how many rows went."""
    return UseCount.objects.filter(window__lt=int(moment)).delete()[0]


def forget_old() -> int:
    """Removes windows of more than a day ago: keys hold addresses of visitors, no limit looks so far back."""
    return forget_before(time.time() - DAY_S)
