"""Keeps uploaded files between the checked result and saving, so that nothing has to be chosen twice.

A staged file belongs to one member, goes away after a day, and is nobody's evidence.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.db import transaction
from django.db.models.functions import Length
from django.utils import timezone

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import StagedUpload

STAGED_FOR = timedelta(days=1)
MOST_FILES = 40  # of one member at a time: several half-finished uploads, not a store
MOST_BYTES = 64 * 1024 * 1024
NAME_LENGTH = 255


@dataclass(frozen=True)
class StagedFile:
    """A staged file: `key` names it in the form, the rest is its content."""

    key: str
    role: str
    name: str
    data: bytes

    @property
    def size(self) -> int:
        """Return Bytes."""
        return len(self.data)


def stage_file(*, by: Viewer, role: str, name: str, data: bytes) -> StagedFile:
    """Store one file for a day; the oldest of the same member make room when there are too many.

    Raises BenchnightError `staging.signed_out`, and `staging.too_large` for a file above the whole room.
    """
    _require_member(by)
    if len(data) > MOST_BYTES:
        raise BenchnightError(
            "staging.too_large",
            "This file is larger than all that can be kept for you.",
            kind="too_large",
            field=role,
        )
    with transaction.atomic():
        StagedUpload.objects.filter(expires_at__lte=timezone.now()).delete()
        row = StagedUpload.objects.create(
            member_id=by.member_id,
            role=role,
            name=name[:NAME_LENGTH],
            raw=data,
            expires_at=timezone.now() + STAGED_FOR,
        )
        _make_room(by)
    return StagedFile(row.key, role, row.name, data)


def get_staged_file(*, by: Viewer, key: str) -> StagedFile:
    """Return a file this member staged within the last day.

    Raises BenchnightError `staging.gone` for anything else: unknown, expired, or another member's.
    """
    _require_member(by)
    row = StagedUpload.objects.filter(member_id=by.member_id, key=key, expires_at__gt=timezone.now()).first()
    if row is None:
        raise BenchnightError(
            "staging.gone",
            "The file you chose earlier is no longer kept (that lasts a day). Choose it again.",
        )
    return StagedFile(row.key, row.role, row.name, bytes(row.raw))


def drop_staged_files(*, by: Viewer, keys: list[str]) -> None:
    """Forget these files of this member; keys of others are passed over."""
    _require_member(by)
    StagedUpload.objects.filter(member_id=by.member_id, key__in=keys).delete()


def _require_member(by: Viewer) -> None:
    if not by.signed_in:
        raise BenchnightError("staging.signed_out", "Sign in to upload files.", kind="forbidden")


def _make_room(by: Viewer) -> None:
    """Delete from the oldest on whatever is beyond the limits; the newest file always stays."""
    bytes_kept = 0
    surplus = []
    newest_first = (
        StagedUpload.objects.filter(member_id=by.member_id)
        .annotate(size=Length("raw"))
        .order_by("-id")
        .values_list("id", "size")
    )
    for files, (row_id, size) in enumerate(newest_first, start=1):
        bytes_kept += size
        if files > MOST_FILES or bytes_kept > MOST_BYTES:
            surplus.append(row_id)
    StagedUpload.objects.filter(id__in=surplus).delete()
