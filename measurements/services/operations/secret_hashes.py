"""Hashes under which secrets are stored that nobody can guess: links, calendar addresses, codes.

The first algorithm makes new hashes; those after it find what was stored before. To change it, edit one line:
put another of 256 bits in front, and remove the old one when what it hashed is over.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable

_ALGORITHMS: dict[str, Callable[[bytes], str]] = {
    "sha256": lambda secret: hashlib.sha256(secret).hexdigest(),
    "sha3_256": lambda secret: hashlib.sha3_256(secret).hexdigest(),
}
IN_USE: tuple[str, ...] = ("sha256",)


def hash_secret(secret: str) -> str:
    """Hash a new secret: 64 hexadecimal digits."""
    return list_hashes(secret)[0]


def list_hashes(secret: str) -> tuple[str, ...]:
    """List every hash under which a secret may be stored."""
    return tuple(_ALGORITHMS[name](secret.encode()) for name in IN_USE)
