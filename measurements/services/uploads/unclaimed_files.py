"""Keeps files of somebody who is not signed in, until the account claims them by a secret address.

A sign-in opens a new session, so a session cannot carry them. Whoever has the address may claim them, once.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256

from django.db import transaction
from django.db.models import QuerySet, Sum
from django.db.models.functions import Length
from django.utils import timezone

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import StagedUpload
from measurements.services.uploads.staging import NAME_LENGTH, STAGED_FOR
from measurements.services.uploads.uploads import Upload

DRAFT_ROLE = "draft"  # no role of a file; holds the draft of the form
MOST_UNCLAIMED_BYTES = 256 * 1024 * 1024  # of everybody together


@dataclass(frozen=True)
class ClaimedFiles:
    """held: role -> key of the staged file, now the member's. draft: the form's other entries."""

    held: dict[str, str]
    draft: bytes


def keep_unclaimed_files(*, files: Mapping[str, Upload], draft: bytes) -> str:
    """Keep files for a day and answer the secret that claims them.

    Raises BenchnightError `staging.full` while too much waits unclaimed.
    """
    secret = secrets.token_urlsafe(32)
    claim, now = _hash(secret), timezone.now()
    rows = {**files, DRAFT_ROLE: Upload("", draft)}
    with transaction.atomic():
        StagedUpload.objects.filter(expires_at__lte=now).delete()
        waiting = StagedUpload.objects.filter(member=None).aggregate(bytes=Sum(Length("raw")))["bytes"] or 0
        if waiting + sum(len(each.data) for each in rows.values()) > MOST_UNCLAIMED_BYTES:
            raise BenchnightError(
                "staging.full",
                "Too many files wait for a sign-in just now. Sign in first, then choose the file again.",
                kind="too_many",
                wait_s=3600,
            )
        StagedUpload.objects.bulk_create(
            StagedUpload(
                claim_sha256=claim,
                role=role,
                name=each.name[:NAME_LENGTH],
                raw=each.data,
                expires_at=now + STAGED_FOR,
            )
            for role, each in rows.items()
        )
    return secret


def find_claim_end(*, secret: str) -> datetime:
    """Tell until when the files wait. Raises BenchnightError `staging.gone` for a spent secret."""
    found = _waiting(secret).values_list("expires_at", flat=True).first()
    if found is None:
        raise _build_gone_error()
    return found


def claim_files(*, by: Viewer, secret: str) -> ClaimedFiles:
    """Make waiting files the member's own.

    Raises BenchnightError `staging.signed_out`, and `staging.gone` for an unknown or spent secret.
    """
    if not by.signed_in:
        raise BenchnightError("staging.signed_out", "Sign in to keep files.", kind="forbidden")
    with transaction.atomic():
        rows = {row.role: row for row in _waiting(secret).defer("raw").select_for_update()}
        if DRAFT_ROLE not in rows:
            raise _build_gone_error()
        draft = bytes(rows.pop(DRAFT_ROLE).raw)
        _waiting(secret).filter(role=DRAFT_ROLE).delete()
        _waiting(secret).update(member_id=by.member_id, claim_sha256="")
    return ClaimedFiles({role: row.key for role, row in rows.items()}, draft)


def _waiting(secret: str) -> QuerySet[StagedUpload]:
    return StagedUpload.objects.filter(member=None, claim_sha256=_hash(secret), expires_at__gt=timezone.now())


def _hash(secret: str) -> str:
    return sha256(secret.encode()).hexdigest()


def _build_gone_error() -> BenchnightError:
    return BenchnightError(
        "staging.gone",
        "These files wait here no longer: they were claimed, or a day has passed. Choose them again.",
        kind="not_found",
    )
