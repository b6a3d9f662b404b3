"""Cuts a list of things of known size into portions that are read at a time, so that memory is bounded."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TypeVar

Key = TypeVar("Key")


def portions(sized: Iterable[tuple[Key, int]], most: int) -> Iterator[list[Key]]:
    """Keys in their order, in lists whose sizes sum to `most` or little more; none is cut in two."""
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
