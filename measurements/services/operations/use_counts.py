"""Counts uses against a limit in one atomic statement, so that parallel requests cannot slip through.

On a full disk this process counts by itself: reading goes on, and no limit is lifted.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.db import DatabaseError, connection
from django.db.models import F, Q

from measurements.models import UseCount
from measurements.models.operations import DIGEST_PREFIX
from measurements.services.operations import disk_room

DAY_S = 24 * 3600
DIGEST_DAYS = 35
MOST_UNSTORED = 10_000
_unstored: dict[tuple[str, int], int] = {}
_unstored_lock = threading.Lock()


@dataclass(frozen=True)
class Allowance:
    """Whether this use is within the limit, and what to tell the client about the rest."""

    allowed: bool
    limit: int
    remaining: int
    reset_s: int


def count_use(key: str, *, limit: int, window_s: int, now: float | None = None) -> Allowance:
    """Count one use of `key` in the current window of `window_s` seconds; see `count_uses`."""
    return count_uses({key: limit}, window_s=window_s, now=now)


def count_uses(limits: Mapping[str, int], *, window_s: int, now: float | None = None) -> Allowance:
    """Count one use of each key, key -> limit, in the current window; answer the strictest of them.

    One INSERT ... ON CONFLICT ... RETURNING, on SQLite and PostgreSQL alike. Windows are fixed, so a
    burst over a window's edge can reach twice the limit; that is accepted.
    """
    moment = time.time() if now is None else now
    window = int(moment // window_s) * window_s
    most = {key[:128]: limit for key, limit in limits.items()}
    try:
        uses = _count_in_database(sorted(most), window)
    except DatabaseError as error:
        if not disk_room.is_disk_full(error):
            raise
        uses = {key: _count_in_process(key, window) for key in most}
    reset_s = max(1, int(window + window_s - moment))
    counted = [
        Allowance(uses[key] <= limit, limit, max(0, limit - uses[key]), reset_s)
        for key, limit in most.items()
    ]
    return min(counted, key=lambda each: (each.allowed, each.remaining))


def give_back_use(key: str, *, window_s: int, now: float | None = None) -> None:
    """Take one use of `key` off the current window: what was counted came to nothing."""
    moment = time.time() if now is None else now
    window = int(moment // window_s) * window_s
    with disk_room.ignore_full_disk():
        UseCount.objects.filter(key=key[:128], window=window, uses__gt=0).update(uses=F("uses") - 1)


def _count_in_database(keys: Sequence[str], window: int) -> dict[str, int]:
    """Add one to each key. keys: sorted, so that two requests at once lock rows in one order."""
    table = connection.ops.quote_name(UseCount._meta.db_table)
    places = ", ".join(["(%s, %s, 1)"] * len(keys))
    with connection.cursor() as cursor:
        cursor.execute(
            f'INSERT INTO {table} ("key", "window", "uses") VALUES {places} '  # noqa: S608  # no input in it
            f'ON CONFLICT ("key", "window") DO UPDATE SET "uses" = {table}."uses" + 1 '
            'RETURNING "key", "uses"',
            [value for key in keys for value in (key, window)],
        )
        rows = cursor.fetchall()
    return {key: int(uses) for key, uses in rows}


def _count_in_process(key: str, window: int) -> int:
    """Return a counter of this process only, which starts from the database's count."""
    known = UseCount.objects.filter(key=key, window=window).values_list("uses", flat=True).first() or 0
    with _unstored_lock:
        if len(_unstored) >= MOST_UNSTORED:
            _unstored.clear()
        _unstored[key, window] = _unstored.get((key, window), 0) + 1
        return known + _unstored[key, window]


def add_to_count(key: str, amount: int, *, window_s: int) -> int | None:
    """Add to what was `put` under `key` in the current window; the sum, or None where nothing was."""
    table = connection.ops.quote_name(UseCount._meta.db_table)
    with connection.cursor() as cursor:
        cursor.execute(
            f'UPDATE {table} SET "uses" = "uses" + %s '  # noqa: S608  # no input in it
            'WHERE "key" = %s AND "window" = %s RETURNING "uses"',
            [amount, key, _get_window_start(window_s)],
        )
        row = cursor.fetchone()
    return None if row is None else int(row[0])


def set_count(key: str, amount: int, *, window_s: int) -> None:
    """Set the count of the current window, to add to from now on. A crash of PostgreSQL loses it."""
    UseCount.objects.update_or_create(key=key, window=_get_window_start(window_s), defaults={"uses": amount})


def delete_counts(key: str) -> None:
    """Remove every window of `key`."""
    UseCount.objects.filter(key=key).delete()


def _get_window_start(window_s: int) -> int:
    return int(time.time() // window_s) * window_s


def delete_counts_before(moment: float) -> int:
    """Remove the windows that began before `moment` (a Unix time); answers how many rows went."""
    return UseCount.objects.filter(window__lt=int(moment)).delete()[0]


def delete_old_counts() -> int:
    """Remove windows of more than a day ago: keys hold addresses of visitors, no limit looks so far back.

    Days of the digest for stewards hold no address and stay for five weeks.
    """
    now = time.time()
    old = UseCount.objects.filter(window__lt=int(now - DAY_S))
    kept = Q(key__startswith=DIGEST_PREFIX, window__gte=int(now - DIGEST_DAYS * DAY_S))
    return old.exclude(kept).delete()[0]
