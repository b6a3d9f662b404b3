"""A member's own access tokens: what tells them apart, never the tokens themselves."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.models import access

SHOWN = 8  # characters of a token, enough to find it in a script


@dataclass(frozen=True)
class TokenRow:
    """One token. key: for revoking it. begins: its first characters. scope: `read` or `upload`."""

    key: str
    begins: str
    label: str
    scope: str
    made_at: datetime
    expires_at: datetime
    expired: bool
    last_used_on: date | None


def of_viewer(viewer: Viewer) -> tuple[TokenRow, ...]:
    """The viewer's own tokens, the newest first."""
    policy.check_signed_in(viewer)
    now = timezone.now()
    return tuple(
        TokenRow(
            key=row.token_key,
            begins=row.token_key[:SHOWN],
            label=row.label,
            scope=row.scope,
            made_at=row.created,
            expires_at=row.expiry,
            expired=row.expiry <= now,
            last_used_on=row.last_used_on,
        )
        for row in access.tokens().filter(user=viewer.member_id).order_by("-created", "token_key")
    )
