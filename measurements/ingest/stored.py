"""What a write answers with."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Stored:
    """The public key of the thing, and whether this call made it."""

    key: str
    created: bool
