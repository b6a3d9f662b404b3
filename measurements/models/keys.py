"""Random public keys: what an address shows instead of a row number, so that it tells no order."""

from __future__ import annotations

import secrets

ALPHABET = "23456789abcdefghjkmnpqrstvwxyz"  # no 0/o, 1/l/i, u: read aloud and typed at a bench
LENGTH = 12  # 30**12 is 5e17: no clash is ever expected, and the unique constraint would refuse one


def new_key() -> str:
    """Return a random key of 12 characters, safe in an address and easy to read out."""
    return "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))
