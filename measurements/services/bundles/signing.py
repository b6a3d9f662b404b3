"""Signs bundles with this server's key (Ed25519, RFC 8032, by pyca/cryptography) and trusts other keys.

The private key is a file under `var`, readable by its owner alone: it is in no backup and in no bundle.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import re
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from django.conf import settings
from django.db import transaction

from measurements.errors import BenchnightError
from measurements.models import TrustedKey
from measurements.services.operations import audit

KEY_FILE = "bundle_key"
KEY = re.compile(r"[0-9a-f]{64}")
# says what is signed, so that a signature of anything else never fits a bundle
SIGNED_PREFIX = b"benchnight bundle 1\n"
MOST_NAME = 64


def get_public_key() -> str:
    """Return this server's public key, 64 hexadecimal digits; the key pair is made at the first call."""
    return _load_private_key().public_key().public_bytes_raw().hex()


def sign_bytes(content: bytes, purpose: bytes = SIGNED_PREFIX) -> bytes:
    """Return the signature of these bytes, 64 bytes. purpose: a bundle's tag manifest, or another use."""
    return _load_private_key().sign(purpose + content)


def is_signed(content: bytes, signature: bytes, public_key: str, purpose: bytes = SIGNED_PREFIX) -> bool:
    """Tell whether the holder of `public_key` (64 hexadecimal digits) signed this for this purpose."""
    try:
        Ed25519PublicKey.from_public_bytes(bytes.fromhex(public_key)).verify(signature, purpose + content)
    except (InvalidSignature, ValueError):
        return False
    return True


def build_pseudonym(key: str) -> str:
    """Return a stable pseudonym of a person's key: other servers never learn the key of the ledger."""
    return hmac.new(_load_private_key().private_bytes_raw(), key.encode(), hashlib.sha256).hexdigest()[:32]


def get_trusted_name(public_key: str) -> str | None:
    """Return the name of a trusted key; None for a foreign one. This server trusts its own."""
    if public_key == get_public_key():
        return "this server"
    return TrustedKey.objects.filter(key=public_key).values_list("name", flat=True).first()


def trust_key(*, key: str, name: str) -> bool:
    """Take bundles of another server from now on; answers whether the key is new. Only a command calls this.

    Raises BenchnightError `bundle.key`, `bundle.key_name`.
    """
    plain, said = "".join(key.split()).lower(), " ".join(name.split())
    if not KEY.fullmatch(plain):
        raise BenchnightError(
            "bundle.key",
            "This is no key of a server: it has 64 digits and letters a to f. Print it there with "
            "`manage.py bundle_key`.",
            field="key",
        )
    if not 1 <= len(said) <= MOST_NAME or not said.isprintable():
        raise BenchnightError(
            "bundle.key_name", f"Name the other server in up to {MOST_NAME} characters.", field="name"
        )
    with transaction.atomic():
        _, created = TrustedKey.objects.update_or_create(key=plain, defaults={"name": said})
        audit.record_action(by=None, action="bundle.trust", subject=plain[:16])
    return created


def _load_private_key() -> Ed25519PrivateKey:
    file: Path = settings.BENCHNIGHT_VAR / KEY_FILE
    if not file.exists():
        _make_key_file(file)
    try:
        return Ed25519PrivateKey.from_private_bytes(bytes.fromhex(file.read_text(encoding="ascii").strip()))
    except (OSError, ValueError) as error:
        raise BenchnightError(
            "bundle.own_key",
            f"{file} holds no key of this server. Put the right file back, or remove it: then a new key is "
            "made, and other servers must trust that one.",
            kind="conflict",
        ) from error


def _make_key_file(file: Path) -> None:
    """Write a new key beside its place and link it there: of two processes at once, one key stays."""
    file.parent.mkdir(parents=True, exist_ok=True)
    beside = file.with_name(f".{file.name}.{os.getpid()}")
    handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
    try:
        with os.fdopen(handle, "w", encoding="ascii") as out:
            out.write(Ed25519PrivateKey.generate().private_bytes_raw().hex() + "\n")
            out.flush()
            os.fsync(out.fileno())
        try:
            os.link(beside, file)
        except FileExistsError:
            return
    finally:
        beside.unlink(missing_ok=True)
