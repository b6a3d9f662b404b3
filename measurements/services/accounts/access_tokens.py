"""Issues and revokes access tokens. A token appears once; the database holds its hash."""

from __future__ import annotations

from datetime import timedelta

from django.db import transaction

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Member, token_table
from measurements.services.operations import audit

MOST_DAYS = 3650
MOST_TOKENS = 50  # of one account: one per script and machine, not one per run
MOST_LABEL = 64
READ, UPLOAD = "read", "upload"
SCOPES = (READ, UPLOAD)


def issue_token(
    *, name: str, days: int, label: str = "", scope: str = UPLOAD, by: Viewer | None = None
) -> str:
    """Return a new token of the account `name`, valid for `days`; answers it, for the only time.

    scope: `read` reads and computes, `upload` also stores. by: the account itself, None for the command.
    Raises BenchnightError `token.unknown_member`, `token.days`, `token.label`, `token.scope`,
    `token.too_many`, `token.not_yours`.
    """
    _check(days, label, scope)
    if by is not None and by.name != name:
        raise BenchnightError(
            "token.not_yours", "A token can only act for your own account.", kind="forbidden"
        )
    member = Member.objects.filter(name=name, is_active=True).first()
    if member is None:
        raise BenchnightError(
            "token.unknown_member",
            f"There is no active account named {name}. Make one with: manage.py member {name}",
            kind="not_found",
            field="name",
        )
    with transaction.atomic():
        if token_table.get_token_manager().filter(user=member).count() >= MOST_TOKENS:
            raise BenchnightError(
                "token.too_many",
                f"An account has up to {MOST_TOKENS} tokens; revoke one first.",
                kind="too_many",
            )
        _, token = token_table.get_token_manager().create(
            user=member, expiry=timedelta(days=days), label=label, scope=scope
        )
        audit.record_action(by=by, action="token.issue", subject=member.name, days=days, scope=scope)
    return str(token)


def revoke_token(*, by: Viewer, key: str) -> None:
    """End one of the viewer's own tokens at once. Raises BenchnightError `token.not_found`."""
    policy.check_signed_in(by)
    with transaction.atomic():
        gone, _ = token_table.get_token_manager().filter(user=by.member_id, token_key=key).delete()
        if not gone:
            raise BenchnightError(
                "token.not_found", "You have no such token; it may be revoked already.", kind="not_found"
            )
        audit.record_action(by=by, action="token.revoke", subject=by.name)


def _check(days: int, label: str, scope: str) -> None:
    if not 1 <= days <= MOST_DAYS:
        raise BenchnightError("token.days", f"Give 1 to {MOST_DAYS} days.", field="days")
    if len(label) > MOST_LABEL or not label.isprintable():
        raise BenchnightError(
            "token.label", f"Give a label of up to {MOST_LABEL} printable characters.", field="label"
        )
    if scope not in SCOPES:
        raise BenchnightError("token.scope", f"Choose one of: {', '.join(SCOPES)}.", field="scope")
