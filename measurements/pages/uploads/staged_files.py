"""Uploads between the checked result and saving: what was typed, kept in the member's own session.

The files themselves lie in `services.uploads.staging`; a draft holds their keys.
"""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

from django.conf import settings
from django.http import HttpRequest

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout.procedures import FileField
from measurements.pages.uploads.forms import FileSlot
from measurements.services.uploads import staging
from measurements.services.uploads.staging import StagedFile

DRAFTS_SESSION_KEY = "drafts"

MAX_DRAFTS = 5


@dataclass(frozen=True)
class Draft:
    """typed: field -> text as typed. held: role -> key of the staged file. design: key, or empty."""

    kind: str
    method: str | None
    design: str
    typed: dict[str, str] = field(default_factory=dict)
    held: dict[str, str] = field(default_factory=dict)


def store_draft(request: HttpRequest, draft: Draft) -> str:
    """Store a draft and answer its name; the oldest go when there are too many."""
    name = secrets.token_urlsafe(9)
    kept: dict[str, Any] = request.session.get(DRAFTS_SESSION_KEY, {})
    kept[name] = asdict(draft)
    request.session[DRAFTS_SESSION_KEY] = dict(list(kept.items())[-MAX_DRAFTS:])
    return name


def get_draft(request: HttpRequest, name: str) -> Draft:
    """Return a draft of this session. Raises BenchnightError `draft.gone`."""
    kept = request.session.get(DRAFTS_SESSION_KEY, {}).get(name)
    if kept is None:
        raise BenchnightError(
            "draft.gone",
            "This upload was saved or given up, or it belongs to another session. Start again from Upload.",
            kind="not_found",
        )
    return Draft(**kept)


def delete_draft(request: HttpRequest, name: str) -> None:
    """Drop a draft that was saved."""
    kept = request.session.get(DRAFTS_SESSION_KEY, {})
    kept.pop(name, None)
    request.session[DRAFTS_SESSION_KEY] = kept


def get_draft_files(
    viewer: Viewer, held: dict[str, str]
) -> tuple[dict[str, StagedFile], dict[str, BenchnightError]]:
    """Return the staged files of a draft by role, and for those that are gone the reason."""
    found: dict[str, StagedFile] = {}
    gone: dict[str, BenchnightError] = {}
    for role, key in held.items():
        try:
            found[role] = staging.get_staged_file(by=viewer, key=key)
        except BenchnightError as error:
            gone[role] = error
    return found, gone


# Files that arrive with a form: put by at once, so that a fault elsewhere never costs a chosen file.

MEBIBYTE = 1024 * 1024


@dataclass(frozen=True)
class ReceivedFiles:
    """held: role -> the staged file. faults: role -> the reason that refused a file."""

    held: dict[str, StagedFile] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)

    def slots(self, files: Sequence[FileField]) -> list[FileSlot]:
        """Return the files as a form shows them."""
        return [
            FileSlot(
                each, self.held.get(each.role), [self.faults[each.role]] if each.role in self.faults else []
            )
            for each in files
        ]


def receive_files(request: HttpRequest, viewer: Viewer, files: Sequence[FileField]) -> ReceivedFiles:
    """Return the files of this request, or else the staged ones (`held_<role>`)."""
    found = ReceivedFiles()
    for each in files:
        came = request.FILES.get(each.role)
        if came is not None:
            if (came.size or 0) > settings.BENCHNIGHT_SWEEP_BYTES:
                most = settings.BENCHNIGHT_SWEEP_BYTES // MEBIBYTE
                found.faults[each.role] = f"This file is larger than {most} MiB. Save fewer points."
                continue
            found.held[each.role] = staging.stage_file(
                by=viewer, role=each.role, name=came.name or "unnamed", data=came.read()
            )
        elif request.POST.get(f"held_{each.role}") and not request.POST.get(f"drop_{each.role}"):
            try:
                found.held[each.role] = staging.get_staged_file(
                    by=viewer, key=request.POST[f"held_{each.role}"]
                )
            except BenchnightError as error:
                found.faults[each.role] = error.detail
    return found
