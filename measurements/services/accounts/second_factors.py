"""Second factors of an account as a whole: which it has, whether one was shown, taking them off."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.conf import settings
from django.db import transaction

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import CodeApp, Member, Passkey, RecoveryCode
from measurements.services.accounts import one_time_codes, recovery_codes
from measurements.services.operations import audit, use_counts

PASSED = "second_factor_passed"  # key of a session that was opened, or continued, with a second factor
# six digits are guessed by trying, so an account has few tries an hour from all networks together: who knows
# the password and tries all year comes in with a chance of about two in five hundred a day
TRIES_AN_HOUR, HOUR_S = 20, 3600


def is_session_waiting(session: Mapping[str, Any], role: str) -> bool:
    """Tell whether a signed-in session may do nothing yet: its role needs a second factor, none was shown."""
    return role in settings.BENCHNIGHT_SECOND_FACTOR_FOR and not session.get(PASSED)


def has_second_factor(member_id: int | None) -> bool:
    """Tell whether the account has an app for codes or a passkey; recovery codes alone are none."""
    return (
        CodeApp.objects.filter(member=member_id).exists() or Passkey.objects.filter(member=member_id).exists()
    )


def has_passkey(member_id: int | None) -> bool:
    """Tell whether the account has a passkey."""
    return Passkey.objects.filter(member=member_id).exists()


def check_code(*, by: Viewer, code: str) -> None:
    """Use up a code of the account's app, or a recovery code.

    Raises BenchnightError `account.code`, `limit.codes`.
    """
    allowance = use_counts.count_use(f"codes:{by.member_id}", limit=TRIES_AN_HOUR, window_s=HOUR_S)
    if not allowance.allowed:
        minutes = -(-allowance.reset_s // 60)
        raise BenchnightError(
            "limit.codes",
            f"An account has {allowance.limit} tries of a code an hour. Wait {minutes} minutes, "
            "or use a passkey.",
            kind="too_many",
            wait_s=allowance.reset_s,
        )
    if recovery_codes.looks_like_recovery_code(code):
        right = recovery_codes.use_recovery_code(by=by, code=code)
    else:
        right = one_time_codes.use_code(member_id=int(by.member_id or 0), code=code)
    if not right:
        raise one_time_codes.build_code_error()


def remove_passkey(*, by: Viewer, key: str) -> None:
    """Remove one of the viewer's own passkeys. Raises BenchnightError `account.no_such_factor`."""
    _remove(by, "passkey", Passkey.objects.filter(member=by.member_id, key=key))


def remove_code_app(*, by: Viewer) -> None:
    """Remove the viewer's own app. Raises BenchnightError `account.no_such_factor`."""
    _remove(by, "code_app", CodeApp.objects.filter(member=by.member_id))


def _remove(by: Viewer, factor: str, rows: Any) -> None:
    policy.check_signed_in(by)
    with transaction.atomic():
        if not rows.delete()[0]:
            raise BenchnightError("account.no_such_factor", "That one is removed already.", kind="conflict")
        if not has_second_factor(by.member_id):
            RecoveryCode.objects.filter(member=by.member_id).delete()
        audit.record_action(by=by, action="account.remove_factor", subject=by.name, factor=factor)


def remove_all_factors(*, name: str, by: Viewer | None = None) -> int:
    """Take every second factor off an account whose owner lost them; answers how many rows went.

    by: a steward, for another account; None: the command. Raises BenchnightError `account.not_found`,
    `account.own_factors`.
    """
    if by is not None:
        policy.check_steward(by)
        if by.name == name:
            raise BenchnightError(
                "account.own_factors",
                "Your own second factor is removed on the page of your account.",
                kind="conflict",
            )
    member = Member.objects.filter(name=name).first()
    if member is None:
        raise BenchnightError("account.not_found", "There is no account of this name.", kind="not_found")
    with transaction.atomic():
        gone = sum(
            table.objects.filter(member=member).delete()[0] for table in (Passkey, CodeApp, RecoveryCode)
        )
        audit.record_action(by=by, action="account.remove_factors", subject=member.name, count=gone)
    return gone
