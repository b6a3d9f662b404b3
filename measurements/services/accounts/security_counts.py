"""Counts sign-ins and refusals by day for the digest that stewards read; the log has each one by itself.

A count names an account by the mark of the log, never a client's address. A name that no account has is not
kept, or somebody who types names by the thousand would fill the table.
"""

from __future__ import annotations

from measurements.models import Member
from measurements.models.operations import DIGEST_PREFIX
from measurements.services.operations import use_counts

NOBODY = "-"
NO_LIMIT = 2**31 - 1


def count_event(event: str, what: str, *, account: str, mark: str) -> None:
    """Add one to today's count (UTC). what: a way of signing in, or a reason. account: as it was typed."""
    known = bool(account) and Member.objects.filter(name=account).exists()
    key = f"{DIGEST_PREFIX}{event}:{what}:{mark if known else NOBODY}"
    use_counts.count_use(key, limit=NO_LIMIT, window_s=use_counts.DAY_S)
