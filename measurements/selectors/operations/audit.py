"""The audit log as stewards read it: the newest line first, filtered."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.models import AuditEntry
from measurements.selectors import paging
from measurements.selectors.paging import Page


@dataclass(frozen=True)
class AuditRow:
    """One line: who did what to which thing, with keys and numbers, never what a member typed."""

    at: datetime
    actor: str
    action: str
    subject: str
    detail: dict[str, Any]


@dataclass(frozen=True)
class AuditFilter:
    """Which lines: by a name, by the beginning of an action, by a thing, from a day to a day (UTC)."""

    actor: str = ""
    action: str = ""
    subject: str = ""
    since: date | None = None
    until: date | None = None

    def conditions(self) -> dict[str, Any]:
        found: dict[str, Any] = {
            "actor": self.actor,
            "action__startswith": self.action,
            "subject": self.subject,
        }
        if self.since is not None:
            found["at__gte"] = datetime.combine(self.since, time.min, UTC)
        if self.until is not None:
            found["at__lt"] = datetime.combine(self.until + timedelta(days=1), time.min, UTC)
        return {name: value for name, value in found.items() if value}


def list_audit_rows(
    viewer: Viewer,
    wanted: AuditFilter = AuditFilter(),
    *,
    cursor: str | None = None,
    limit: int = paging.DEFAULT_LIMIT,
) -> Page[AuditRow]:
    """Return lines of the log for stewards. The cursor counts lines: stewards see all of them anyway."""
    policy.check_steward(viewer)
    size = paging.check_limit(limit)
    position = paging.decode_cursor(cursor, before=int)
    rows = AuditEntry.objects.order_by("-pk").filter(**wanted.conditions())
    if position is not None:
        rows = rows.filter(pk__lt=position["before"])
    found = list(rows[: size + 1])
    following = paging.encode_cursor({"before": found[size - 1].pk}) if len(found) > size else None
    shown = tuple(AuditRow(row.at, row.actor, row.action, row.subject, row.detail) for row in found[:size])
    return Page(shown, following)
