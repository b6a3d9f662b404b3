"""What happened at the door in the last days: sign-ins, refusals, changed accounts. No address is in it."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.models import AuditEntry, Member, UseCount, operations
from measurements.selectors.operations.audit import AuditRow

DAY_S = 24 * 3600
MOST_CHANGES = 50
# changes of accounts that stewards want to know of; signing in and out by links is counted above
CHANGES = (
    "account.ensure",
    "account.invite",
    "account.change_role",
    "account.suspend",
    "account.unsuspend",
    "account.revoke",
    "account.add_factor",
    "account.remove_factor",
    "account.remove_factors",
    "account.use_recovery_code",
    "account.delete",
    "token.issue",
)


@dataclass(frozen=True)
class DigestRow:
    """So many times the same. account: empty where no account has the name, or none was named."""

    what: str
    account: str
    count: int


@dataclass(frozen=True)
class SecurityDigest:
    """The last days. changes: newest first, at most MOST_CHANGES; changed: how many there were."""

    days: int
    sign_ins: tuple[DigestRow, ...]
    refused_sign_ins: tuple[DigestRow, ...]
    refused_requests: tuple[DigestRow, ...]
    changes: tuple[AuditRow, ...]
    changed: int

    def sum_sign_ins(self) -> int:
        """Count the sign-ins."""
        return sum(row.count for row in self.sign_ins)

    def sum_refused_sign_ins(self) -> int:
        """Count the refused sign-ins."""
        return sum(row.count for row in self.refused_sign_ins)

    def sum_refused_requests(self) -> int:
        """Count what signed-in accounts were refused."""
        return sum(row.count for row in self.refused_requests)


def get_security_digest(
    viewer: Viewer, *, compute_mark: Callable[[str], str], days: int = 7
) -> SecurityDigest:
    """Collect the digest of today and the days before, for stewards.

    compute_mark: from an account's name to its mark in the log. days: today too, in UTC.
    """
    policy.check_steward(viewer)
    today = int(time.time() // DAY_S) * DAY_S
    since = today - (days - 1) * DAY_S
    totals = _sum_counts(since, compute_mark)
    entries = AuditEntry.objects.filter(
        action__in=CHANGES, at__gte=datetime.fromtimestamp(since, tz=UTC)
    ).order_by("-pk")
    return SecurityDigest(
        days,
        totals[operations.SIGN_IN],
        totals[operations.SIGN_IN_REFUSED],
        totals[operations.REQUEST_REFUSED],
        tuple(
            AuditRow(row.at, row.actor, row.action, row.subject, row.detail) for row in entries[:MOST_CHANGES]
        ),
        entries.count(),
    )


def _sum_counts(since: int, compute_mark: Callable[[str], str]) -> dict[str, tuple[DigestRow, ...]]:
    """Sum the days' counts by event; the most frequent first."""
    found: dict[str, Counter[tuple[str, str]]] = {
        operations.SIGN_IN: Counter(),
        operations.SIGN_IN_REFUSED: Counter(),
        operations.REQUEST_REFUSED: Counter(),
    }
    rows = UseCount.objects.filter(key__startswith=operations.DIGEST_PREFIX, window__gte=since)
    for key, uses in rows.values_list("key", "uses"):
        event, what, mark = key.removeprefix(operations.DIGEST_PREFIX).split(":")
        found[event][what, mark] += uses
    names = {compute_mark(name): name for name in Member.objects.values_list("name", flat=True)}
    return {
        event: tuple(
            DigestRow(what, names.get(mark, ""), count) for (what, mark), count in counted.most_common()
        )
        for event, counted in found.items()
    }
