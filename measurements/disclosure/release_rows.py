"""Cuts a list of things of known size into portions that are read at a time, so that memory is bounded."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from random import Random
from typing import TypeVar

Key = TypeVar("Key")


def split_into_portions(sized: Iterable[tuple[Key, int]], most: int) -> Iterator[list[Key]]:
    """Yield keys in their order, in lists whose sizes sum to `most` or little more; none is cut in two."""
    portion: list[Key] = []
    held = 0
    for key, size in sized:
        portion.append(key)
        held += size
        if held >= most:
            yield portion
            portion, held = [], 0
    if portion:
        yield portion


# What is random in a release.

Row = TypeVar("Row")

SALT_BYTES = 32


def create_salt(rng: Random) -> bytes:
    """Create a release's secret; pass `random.SystemRandom()` outside tests.

    It tells this release from another one of its number, in a restored database.
    """
    return rng.randbytes(SALT_BYTES)


def shuffle_rows(rows: Sequence[Row], rng: Random) -> list[Row]:
    """Return the rows in random order, for what is stored together. The argument stays as it is."""
    return rng.sample(list(rows), len(rows))
