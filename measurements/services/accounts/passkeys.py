"""Passkeys (WebAuthn, W3C) as a second factor, checked by the library fido2.

A challenge is good for one reply; its state waits in the session. The origin is the group's own address
alone, so that a look-alike site gets nothing that works here.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.db import IntegrityError, transaction
from fido2.server import Fido2Server
from fido2.webauthn import (
    AttestedCredentialData,
    AuthenticationResponse,
    AuthenticatorData,
    PublicKeyCredentialRpEntity,
    PublicKeyCredentialUserEntity,
    UserVerificationRequirement,
)

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Passkey, group_facts
from measurements.services.operations import audit

MOST_PASSKEYS, MOST_LABEL, MOST_REPLY = 10, 40, 16_384
PREFERRED = UserVerificationRequirement.PREFERRED
# the user handle must name nobody: a keyed hash of the row's number would do, its digest does as well
HANDLE = b"measurements.passkey:"


def are_passkeys_possible() -> bool:
    """Tell whether browsers make passkeys for the site: over https, or on the machine itself by its name."""
    address = urlsplit(settings.BENCHNIGHT_SITE)
    return address.hostname == "localhost" or (address.scheme == "https" and not _is_number(address.hostname))


def begin_registration(*, by: Viewer) -> tuple[dict[str, Any], dict[str, Any]]:
    """Begin a new passkey; answers what the browser is given, and the state that checks its reply."""
    options, state = _build_server().register_begin(
        PublicKeyCredentialUserEntity(
            id=hashlib.sha256(HANDLE + str(by.member_id).encode()).digest(),
            name=by.name,
            display_name=by.name,
        ),
        credentials=_list_credentials(by.member_id),
        user_verification=PREFERRED,
    )
    return dict(options.public_key), state


def add_passkey(*, by: Viewer, state: Mapping[str, Any] | None, reply: str, label: str) -> None:
    """Check the browser's reply and store the passkey.

    Raises BenchnightError `account.passkey`, `account.passkey_label`, `account.too_many_passkeys`.
    """
    plain = " ".join(label.split())
    if not 1 <= len(plain) <= MOST_LABEL or not plain.isprintable():
        raise BenchnightError(
            "account.passkey_label", f"Give a name of 1 to {MOST_LABEL} characters.", field="label"
        )
    if Passkey.objects.filter(member=by.member_id).count() >= MOST_PASSKEYS:
        raise BenchnightError(
            "account.too_many_passkeys", f"An account has up to {MOST_PASSKEYS} passkeys.", kind="conflict"
        )
    try:
        data = _build_server().register_complete(_check_state(state), _parse_reply(reply))
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise _build_passkey_error() from error
    _store_passkey(by, data, plain)


def _store_passkey(by: Viewer, data: AuthenticatorData, label: str) -> None:
    credential = data.credential_data
    if credential is None:
        raise _build_passkey_error()
    try:
        with transaction.atomic():
            Passkey.objects.create(
                member_id=by.member_id,
                label=label,
                credential_id_sha256=_hash_id(credential.credential_id),
                credential=bytes(credential),
                sign_count=data.counter,
            )
            audit.record_action(by=by, action="account.add_factor", subject=by.name, factor="passkey")
    except IntegrityError as error:
        raise _build_passkey_error() from error


def begin_check(*, member_id: int) -> tuple[dict[str, Any], dict[str, Any]]:
    """Begin a check of the account's passkeys; answers what the browser is given, and the state."""
    options, state = _build_server().authenticate_begin(
        _list_credentials(member_id), user_verification=PREFERRED
    )
    return dict(options.public_key), state


def check_passkey(*, member_id: int, state: Mapping[str, Any] | None, reply: str) -> None:
    """Check that a passkey of the account signed the challenge. Raises BenchnightError `account.passkey`.

    A count that does not rise means that somebody may have copied the key: refused (WebAuthn, 6.1.1).
    """
    try:
        parsed = AuthenticationResponse.from_dict(_parse_reply(reply))
        used = _build_server().authenticate_complete(
            _check_state(state), _list_credentials(member_id), parsed
        )
        count = parsed.response.authenticator_data.counter
    except (ValueError, KeyError, TypeError, AttributeError) as error:
        raise _build_passkey_error() from error
    rows = Passkey.objects.filter(member=member_id, credential_id_sha256=_hash_id(used.credential_id))
    # authenticators that do not count send 0 for good
    known = rows.filter(sign_count=0) if count == 0 else rows.filter(sign_count__lt=count)
    if not known.update(sign_count=count):
        raise _build_passkey_error()


def _build_server() -> Fido2Server:
    site = urlsplit(settings.BENCHNIGHT_SITE)
    origin = f"{site.scheme}://{site.netloc}"
    return Fido2Server(
        PublicKeyCredentialRpEntity(id=site.hostname or "", name=group_facts.get_group_name()),
        verify_origin=lambda given: given == origin,
    )


def _list_credentials(member_id: int | None) -> list[AttestedCredentialData]:
    rows = Passkey.objects.filter(member=member_id).order_by("pk").values_list("credential", flat=True)
    return [AttestedCredentialData(bytes(row)) for row in rows]


def _parse_reply(reply: str) -> dict[str, Any]:
    if len(reply) > MOST_REPLY:
        raise ValueError("reply too long")
    parsed = json.loads(reply)
    if not isinstance(parsed, dict):
        raise TypeError("no object")
    return parsed


def _check_state(state: Mapping[str, Any] | None) -> Mapping[str, Any]:
    if not state:
        raise ValueError("no challenge waits")
    return state


def _hash_id(credential_id: bytes) -> str:
    return hashlib.sha256(credential_id).hexdigest()


def _is_number(host: str | None) -> bool:
    return host is None or ":" in host or host.replace(".", "").isdigit()


def _build_passkey_error() -> BenchnightError:
    return BenchnightError("account.passkey", "The passkey was not accepted. Try again.", field="passkey")
