"""One-time codes of an app (RFC 6238): 6 digits, new every 30 seconds, each taken once.

HMAC-SHA-1 is the RFC's own choice and the only one that every app follows.
"""

from __future__ import annotations

import secrets
import time
from dataclasses import dataclass

from cryptography.hazmat.primitives.hashes import SHA1
from cryptography.hazmat.primitives.twofactor import InvalidToken
from cryptography.hazmat.primitives.twofactor.totp import TOTP
from django.db import transaction

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import CodeApp, group_facts
from measurements.services.accounts import factor_secrets
from measurements.services.operations import audit

SECRET_BYTES, DIGITS, STEP_S = 20, 6, 30


@dataclass(frozen=True)
class AppSecret:
    """What an app needs. address: for a picture that the app reads. typed: base32, for typing it."""

    address: str
    typed: str


def make_secret() -> str:
    """Make the secret of a new app, encrypted: it waits in the session until a first code confirms it."""
    return factor_secrets.encrypt(secrets.token_bytes(SECRET_BYTES))


def describe_secret(*, by: Viewer, encrypted: str) -> AppSecret:
    """Describe a secret of `make_secret` for the app. Raises BenchnightError `account.no_code_app`."""
    address = _build_totp(encrypted).get_provisioning_uri(by.name, group_facts.get_group_name())
    typed = address.partition("secret=")[2].partition("&")[0]
    return AppSecret(address, " ".join(typed[at : at + 4] for at in range(0, len(typed), 4)))


def add_code_app(*, by: Viewer, encrypted: str, code: str) -> None:
    """Store the app once it gave a right code, in place of an earlier app.

    Raises BenchnightError `account.code`, `account.no_code_app`.
    """
    step = _find_step(encrypted, code)
    if step is None:
        raise build_code_error()
    with transaction.atomic():
        CodeApp.objects.update_or_create(
            member_id=by.member_id, defaults={"secret_encrypted": encrypted, "last_step": step}
        )
        audit.record_action(by=by, action="account.add_factor", subject=by.name, factor="code_app")


def use_code(*, member_id: int, code: str) -> bool:
    """Tell whether the code is the account's of now, and use it up: nobody who read it uses it again."""
    app = CodeApp.objects.filter(member=member_id).first()
    step = None if app is None else _find_step(app.secret_encrypted, code)
    if step is None:
        return False
    # the conditional UPDATE decides between two who send one code
    return bool(CodeApp.objects.filter(member=member_id, last_step__lt=step).update(last_step=step))


def build_code_error() -> BenchnightError:
    """Build the refusal of a wrong code, the same for every reason."""
    return BenchnightError(
        "account.code",
        "This code is not right, or was used already. Wait for the next one, and look at the phone's clock.",
        field="code",
    )


def _find_step(encrypted: str, code: str) -> int | None:
    """Find the 30 seconds that the code belongs to: the running ones, or those before, for slow typists."""
    totp, now = _build_totp(encrypted), int(time.time()) // STEP_S
    plain = "".join(code.split())
    if len(plain) != DIGITS or not (plain.isascii() and plain.isdigit()):
        return None
    for step in (now, now - 1):
        try:
            totp.verify(plain.encode(), step * STEP_S)
        except InvalidToken:
            continue
        return step
    return None


def _build_totp(encrypted: str) -> TOTP:
    secret = factor_secrets.decrypt(encrypted)
    if secret is None:
        raise BenchnightError(
            "account.no_code_app",
            "The server's secret key was replaced, so codes of this app are good no more. Use a passkey or a "
            "recovery code, or ask a steward to take the second factor off; then set it up anew.",
            kind="conflict",
        )
    return TOTP(secret, DIGITS, SHA1(), STEP_S)  # noqa: S303  # see above
