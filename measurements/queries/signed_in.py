"""Where an account is signed in: its sessions by when they were opened and last used, never what opens them.

Whose a session is stands inside of it, so every session that has not run out is looked at: some hundred for a
group, and on a page that is seldom opened.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from django.contrib.auth import HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.models import Session
from django.utils import timezone
from django.utils.crypto import constant_time_compare, salted_hmac

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.models import Member

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


def of_viewer(viewer: Viewer, *, here: str) -> tuple[SessionRow, ...]:
    """The sessions of the viewer's account that still let somebody in, the one that asks first.

    here: the key of the session that asks.
    """
    rows = [
        SessionRow(_name(each), _time(kept.get(OPENED)), _time(kept.get(RENEWED)), each.session_key == here)
        for each, kept in _of(viewer)
    ]
    newest = datetime.max.replace(tzinfo=UTC)
    rows.sort(key=lambda row: (row.here, row.opened_at or newest), reverse=True)
    return tuple(rows)


def key_of(viewer: Viewer, name: str) -> str | None:
    """The key of the viewer's own session of this name, for ending it; None where there is none."""
    return next(
        (each.session_key for each, _ in _of(viewer) if constant_time_compare(_name(each), name)), None
    )


def _of(viewer: Viewer) -> Iterator[tuple[Session, dict[str, object]]]:
    policy.check_signed_in(viewer)
    member = Member.objects.get(pk=viewer.member_id)
    good, whose = member.get_session_auth_hash(), str(member.pk)
    for each in Session.objects.filter(expire_date__gt=timezone.now()).iterator():
        kept = each.get_decoded()
        if kept.get(SESSION_KEY) == whose and constant_time_compare(kept.get(HASH_SESSION_KEY, ""), good):
            yield each, kept


def _name(session: Session) -> str:
    """Stands for the key, which nobody is shown."""
    return salted_hmac("queries.signed_in", session.session_key, algorithm="sha256").hexdigest()[:24]


def _time(since_1970_s: object) -> datetime | None:
    return datetime.fromtimestamp(since_1970_s, UTC) if isinstance(since_1970_s, int | float) else None
