"""Encrypts what one-time codes are made from, under a key that is derived from the secret key."""

from __future__ import annotations

import base64

from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from django.conf import settings

PURPOSE = b"measurements.second_factors"


def encrypt(secret: bytes) -> str:
    """Encrypt and authenticate the secret; the text goes into a table or a session."""
    return _build_cipher().encrypt(secret).decode("ascii")


def decrypt(text: str) -> bytes | None:
    """Decrypt the secret; None where the secret key was replaced since, or the text changed."""
    try:
        return _build_cipher().decrypt(text.encode("ascii", "replace"))
    except InvalidToken:
        return None


def _build_cipher() -> MultiFernet:
    keys = (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)
    return MultiFernet([Fernet(_derive_key(key)) for key in keys])


def _derive_key(secret_key: str) -> bytes:
    derived = HKDF(algorithm=SHA256(), length=32, salt=None, info=PURPOSE).derive(secret_key.encode())
    return base64.urlsafe_b64encode(derived)
