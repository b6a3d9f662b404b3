"""One line per write: who did what to which thing. Written in the transaction of the write itself."""

from __future__ import annotations

from typing import Any

from measurements.disclosure.circles import Viewer
from measurements.models import AuditEntry

SERVER = "(server)"  # commands and timers act for the group, not for an account


def note(*, by: Viewer | None, action: str, subject: str, **detail: Any) -> None:
    """Adds an audit row. `detail` holds keys and numbers, never what a member typed."""
    AuditEntry.objects.create(
        actor=by.name if by is not None else SERVER, action=action, subject=subject, detail=detail
    )
