"""Row ids and row order of a release: random, new in every release, and telling nothing.

A cell may stand unchanged through many releases. Its rows' inner ids never leave the server; what
leaves is a keyed hash under the secret salt of the release, so that the same row has another id and
another place in the next release, and nobody without the salt can join two releases by id.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Sequence
from random import Random
from typing import TypeVar

Row = TypeVar("Row")

SALT_BYTES = 32
_ID_BYTES = 12  # 96 bits: a million rows clash once in 10**17 releases


def new_salt(rng: Random) -> bytes:
    """A release's secret; pass `random.SystemRandom()` outside tests."""
    return rng.randbytes(SALT_BYTES)


def row_id(salt: bytes, inner_id: str) -> str:
    """The id of a row in the release with this salt: 24 hexadecimal digits.

    Raises ValueError for a salt that is too short to be a secret.
    """
    if len(salt) < SALT_BYTES:
        raise ValueError("The salt of a release must be 32 bytes.")
    return hashlib.blake2b(inner_id.encode(), key=salt, digest_size=_ID_BYTES).hexdigest()


def in_release_order(
    salt: bytes, rows: Iterable[Row], inner_id: Callable[[Row], str]
) -> list[tuple[str, Row]]:
    """Rows with their ids of this release, in the order of those ids, which is no order at all."""
    return sorted(((row_id(salt, inner_id(row)), row) for row in rows), key=lambda pair: pair[0])


def shuffled(rows: Sequence[Row], rng: Random) -> list[Row]:
    """The rows in random order, for what is stored together and has no ids. The argument stays as it is."""
    return rng.sample(list(rows), len(rows))
