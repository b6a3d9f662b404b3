"""Cuts a list of things of known size into portions that are read at a time, so that memory is bounded."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from random import Random
from typing import Any, TypeVar

from measurements.disclosure import published_figures

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


# Row ids and row order of a release: random, new in every release, and telling nothing.
#
# A cell may stand unchanged through many releases. Its rows' inner ids never leave the server; what
# leaves is a keyed hash under the secret salt of the release, so that the same row has another id and
# another place in the next release, and nobody without the salt can join two releases by id.

Row = TypeVar("Row")

SALT_BYTES = 32

_ID_BYTES = 12  # 96 bits: a million rows clash once in 10**17 releases


def create_salt(rng: Random) -> bytes:
    """Return a release's secret; pass `random.SystemRandom()` outside tests."""
    return rng.randbytes(SALT_BYTES)


def compute_row_id(salt: bytes, inner_id: str) -> str:
    """Return the id of a row in the release with this salt: 24 hexadecimal digits.

    Raises ValueError for a salt that is too short to be a secret.
    """
    if len(salt) < SALT_BYTES:
        raise ValueError("The salt of a release must be 32 bytes.")
    return hashlib.blake2b(inner_id.encode(), key=salt, digest_size=_ID_BYTES).hexdigest()


def order_by_row_id(
    salt: bytes, rows: Iterable[Row], inner_id: Callable[[Row], str]
) -> list[tuple[str, Row]]:
    """Return rows with their ids of this release, in the order of those ids, which is no order at all."""
    return sorted(((compute_row_id(salt, inner_id(row)), row) for row in rows), key=lambda pair: pair[0])


def shuffle_rows(rows: Sequence[Row], rng: Random) -> list[Row]:
    """Return the rows in random order, for what is stored together and has no ids. The argument stays as it
    is.
    """
    return rng.sample(list(rows), len(rows))


# The identity-free rows that a release shows of one device: ids of this release, figures as published.

# what is read of a sample, in this order (paths of the tables)
SAMPLE_COLUMNS = (
    "id",
    "cell__design__key",
    "month",
    "cell__bands",
    "figures",
    "coverage",
    "self_resonance_hz",
)

_SAMPLE_POSITION, _DESIGN_POSITION = 1, 2


def build_release_rows(salt: bytes, samples: Iterable[Sequence[Any]]) -> list[tuple[Any, ...]]:
    """Return rows of these samples in the columns of `release_columns.EVIDENCE`.

    By design, then by the ids of this release, which is no order at all: an order by stored ids would
    stay the same from release to release and join rows by their place. samples: columns `STORED`.
    """
    rows = [row for sample in samples for row in _build_device_rows(salt, *sample)]
    return sorted(rows, key=lambda row: (row[_DESIGN_POSITION], row[_SAMPLE_POSITION], row[0]))


def _build_device_rows(
    salt: bytes,
    inner_id: Any,
    design: str,
    month: str,
    bands: Sequence[str],
    figures: bytes,
    coverage: str,
    self_resonance_hz: float | None,
) -> Iterator[tuple[Any, ...]]:
    sample = compute_row_id(salt, inner_id.hex)
    for band, *values in published_figures.unpack_figures(bands, bytes(figures), coverage):
        yield (
            compute_row_id(salt, f"{inner_id.hex} {band}"),
            sample,
            design,
            month,
            band,
            *values,
            self_resonance_hz,
        )
