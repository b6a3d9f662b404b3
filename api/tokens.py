"""Issues access tokens. A token is shown once; what is kept is its hash."""

from __future__ import annotations

from datetime import timedelta

from django.contrib.auth import get_user_model

from api.models import AccessToken
from measurements.errors import BenchnightError

MOST_DAYS = 3650
MOST_TOKENS = 50  # of one account: one per script and machine, not one per run


def issue(*, name: str, days: int, label: str = "") -> str:
    """A new token of the account `name`, valid for `days`.

    Raises BenchnightError `token.unknown_member`, `token.days`, `token.label` or `token.too_many`.
    """
    member = get_user_model().objects.filter(name=name, is_active=True).first()
    if member is None:
        raise BenchnightError(
            "token.unknown_member",
            f"There is no active account named {name}. Make one with: manage.py member {name}",
            kind="not_found",
            field="name",
        )
    if not 1 <= days <= MOST_DAYS:
        raise BenchnightError("token.days", f"Give 1 to {MOST_DAYS} days.", field="days")
    if len(label) > 64 or not label.isprintable():
        raise BenchnightError("token.label", "Give a label of up to 64 printable characters.", field="label")
    if AccessToken.objects.filter(user=member).count() >= MOST_TOKENS:
        raise BenchnightError(
            "token.too_many", f"An account has up to {MOST_TOKENS} tokens; revoke one first.", kind="too_many"
        )
    _, token = AccessToken.objects.create(user=member, expiry=timedelta(days=days), label=label)
    return token
