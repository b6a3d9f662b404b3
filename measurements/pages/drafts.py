"""Uploads between the checked result and saving: what was typed, kept in the member's own session.

The files themselves lie in `ingest.staging`; a draft holds their keys.
"""

from __future__ import annotations

import secrets
from dataclasses import asdict, dataclass, field
from typing import Any

from django.http import HttpRequest

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import staging
from measurements.ingest.staging import Staged

SESSION_KEY = "drafts"
MOST_DRAFTS = 5


@dataclass(frozen=True)
class Draft:
    """typed: field -> text as typed. held: role -> key of the staged file. design: key, or empty."""

    kind: str
    method: str | None
    design: str
    typed: dict[str, str] = field(default_factory=dict)
    held: dict[str, str] = field(default_factory=dict)


def keep(request: HttpRequest, draft: Draft) -> str:
    """Stores a draft and answers its name; the oldest go when there are too many."""
    name = secrets.token_urlsafe(9)
    kept: dict[str, Any] = request.session.get(SESSION_KEY, {})
    kept[name] = asdict(draft)
    request.session[SESSION_KEY] = dict(list(kept.items())[-MOST_DRAFTS:])
    return name


def find(request: HttpRequest, name: str) -> Draft:
    """A draft of this session. Raises BenchnightError `draft.gone`."""
    kept = request.session.get(SESSION_KEY, {}).get(name)
    if kept is None:
        raise BenchnightError(
            "draft.gone",
            "This upload was saved or given up, or it belongs to another session. Start again from Upload.",
            kind="not_found",
        )
    return Draft(**kept)


def forget(request: HttpRequest, name: str) -> None:
    """Drops a draft that was saved."""
    kept = request.session.get(SESSION_KEY, {})
    kept.pop(name, None)
    request.session[SESSION_KEY] = kept


def files(viewer: Viewer, held: dict[str, str]) -> tuple[dict[str, Staged], dict[str, BenchnightError]]:
    """The staged files of a draft by role, and for those that are gone the reason."""
    found: dict[str, Staged] = {}
    gone: dict[str, BenchnightError] = {}
    for role, key in held.items():
        try:
            found[role] = staging.fetch(by=viewer, key=key)
        except BenchnightError as error:
            gone[role] = error
    return found, gone
