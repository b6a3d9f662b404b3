"""One line per write: who did what to which thing. Written in the transaction of the write itself."""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import Any

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import AuditEntry

SERVER_ACTOR = "(server)"  # commands and timers act for the group, not for an account


def record_action(*, by: Viewer | None, action: str, subject: str, **detail: Any) -> None:
    """Add an audit row. `detail` holds keys and numbers, never what a member typed."""
    build_entry(by=by, action=action, subject=subject, **detail).save(force_insert=True)


def build_entry(*, by: Viewer | None, action: str, subject: str, **detail: Any) -> AuditEntry:
    """Build the row without storing it."""
    return AuditEntry(
        actor=by.name if by is not None else SERVER_ACTOR, action=action, subject=subject, detail=detail
    )


# What a write answers with.


@dataclass(frozen=True)
class WriteResult:
    """The public key of the thing, and whether this call made it."""

    key: str
    created: bool


# What a steward writes beside a change: why a test is left out, where a figure comes from.

LEAST_CHARACTERS, MOST_CHARACTERS = 3, 500


def parse_justification(given: str, field: str, code: str, wanted: str) -> str:
    """Return the text in one line of plain spaces.

    wanted: what belongs here, for the refusal. Raises BenchnightError `code`, naming the field.
    """
    plain = " ".join(str(given).split())
    if not LEAST_CHARACTERS <= len(plain) <= MOST_CHARACTERS or any(
        unicodedata.category(char)[0] == "C" for char in plain
    ):
        raise BenchnightError(
            code, f"{wanted} It takes {LEAST_CHARACTERS} to {MOST_CHARACTERS} characters.", field=field
        )
    return plain
