"""A member's own access tokens: what tells them apart, never the tokens themselves."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime

from django.contrib.auth import HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.models import Session
from django.utils import timezone
from django.utils.crypto import constant_time_compare, salted_hmac

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.models import Member, token_table

SHOWN_CHARACTERS = 8  # characters of a token, enough to find it in a script


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


def list_access_tokens(viewer: Viewer) -> tuple[TokenRow, ...]:
    """Return the viewer's own tokens, the newest first."""
    policy.check_signed_in(viewer)
    now = timezone.now()
    return tuple(
        TokenRow(
            key=row.token_key,
            begins=row.token_key[:SHOWN_CHARACTERS],
            label=row.label,
            scope=row.scope,
            made_at=row.created,
            expires_at=row.expiry,
            expired=row.expiry <= now,
            last_used_on=row.last_used_on,
        )
        for row in token_table.get_token_manager()
        .filter(user=viewer.member_id)
        .order_by("-created", "token_key")
    )


# Where an account is signed in: its sessions by when they were opened and last used, never what opens them.
#
# Whose a session is stands inside of it, so every session that has not run out is looked at: some
# hundred for a
# group, and on a page that is seldom opened.

OPENED, RENEWED = (
    "opened",
    "renewed",
)  # in the session, in seconds since 1970; the server's middleware sets them


@dataclass(frozen=True)
class SessionRow:
    """One session. name: for ending it. opened_at: None until it was used once. here: the one that asks.

    used_at: the last use, at most a day behind.
    """

    name: str
    opened_at: datetime | None
    used_at: datetime | None
    here: bool


def list_sessions(viewer: Viewer, *, here: str) -> tuple[SessionRow, ...]:
    """Return the sessions of the viewer's account that still let somebody in, the one that asks first.

    here: the key of the session that asks.
    """
    rows = [
        SessionRow(
            _session_name(each),
            _parse_time(kept.get(OPENED)),
            _parse_time(kept.get(RENEWED)),
            each.session_key == here,
        )
        for each, kept in _iterate_sessions(viewer)
    ]
    newest = datetime.max.replace(tzinfo=UTC)
    rows.sort(key=lambda row: (row.here, row.opened_at or newest), reverse=True)
    return tuple(rows)


def find_session_key(viewer: Viewer, name: str) -> str | None:
    """Return the key of the viewer's own session of this name, for ending it; None where there is none."""
    return next(
        (
            each.session_key
            for each, _ in _iterate_sessions(viewer)
            if constant_time_compare(_session_name(each), name)
        ),
        None,
    )


def _iterate_sessions(viewer: Viewer) -> Iterator[tuple[Session, dict[str, object]]]:
    policy.check_signed_in(viewer)
    member = Member.objects.get(pk=viewer.member_id)
    good, whose = member.get_session_auth_hash(), str(member.pk)
    for each in Session.objects.filter(expire_date__gt=timezone.now()).iterator():
        kept = each.get_decoded()
        if kept.get(SESSION_KEY) == whose and constant_time_compare(kept.get(HASH_SESSION_KEY, ""), good):
            yield each, kept


def _session_name(session: Session) -> str:
    """Return the public name of a key, which itself nobody sees."""
    return salted_hmac("selectors.accounts.credentials", session.session_key, algorithm="sha256").hexdigest()[
        :24
    ]


def _parse_time(since_1970_s: object) -> datetime | None:
    return datetime.fromtimestamp(since_1970_s, UTC) if isinstance(since_1970_s, int | float) else None
