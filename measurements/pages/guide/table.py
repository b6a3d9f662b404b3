"""A small table of the guide: words only, ready to be shown."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Table:
    """rows: the first cell of each is its heading."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
