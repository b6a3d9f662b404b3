"""Recovery codes: shown once, each good once, for the day on which app and passkeys are lost."""

from __future__ import annotations

import secrets

from django.db import transaction

from measurements.disclosure.viewers import Viewer
from measurements.models import RecoveryCode
from measurements.services.operations import audit, secret_hashes

COUNT = 10
# 28 of 32 symbols are 140 bits: a plain hash is enough, as for any secret that nobody can guess
ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
LENGTH, GROUP = 28, 4


def renew_recovery_codes(*, by: Viewer) -> tuple[str, ...]:
    """Make ten codes in place of all earlier ones; answers them, for the only time."""
    codes = tuple(_make_code() for _ in range(COUNT))
    with transaction.atomic():
        RecoveryCode.objects.filter(member=by.member_id).delete()
        RecoveryCode.objects.bulk_create(
            RecoveryCode(member_id=by.member_id, code_sha256=secret_hashes.hash_secret(_plain(code)))
            for code in codes
        )
        audit.record_action(by=by, action="account.renew_recovery_codes", subject=by.name, count=COUNT)
    return codes


def use_recovery_code(*, by: Viewer, code: str) -> bool:
    """Tell whether this is an unused code of the account, and use it up."""
    with transaction.atomic():
        # the DELETE decides between two who send one code
        used, _ = RecoveryCode.objects.filter(
            member=by.member_id, code_sha256__in=secret_hashes.list_hashes(_plain(code))
        ).delete()
        if used:
            audit.record_action(by=by, action="account.use_recovery_code", subject=by.name)
    return bool(used)


def looks_like_recovery_code(code: str) -> bool:
    """Tell whether somebody typed a recovery code rather than one of an app."""
    return len(_plain(code)) == LENGTH


def _make_code() -> str:
    plain = "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))
    return "-".join(plain[at : at + GROUP] for at in range(0, LENGTH, GROUP))


def _plain(code: str) -> str:
    return "".join(char for char in code.upper() if char.isalnum())
