"""The shape of a guide entry."""

from __future__ import annotations

from dataclasses import dataclass

from measurements.pages.cautions import Caution


@dataclass(frozen=True)
class Variant:
    """One method of a kind: when to take it and how it is wired."""

    method: str
    title: str
    when: str
    steps: tuple[str, ...]


@dataclass(frozen=True)
class Entry:
    """One kind of test. steps: the wiring and the sweep in order; reading: what the figures mean."""

    kind: str
    title: str
    question: str
    gather: tuple[str, ...]
    steps: tuple[str, ...]
    reading: tuple[str, ...]
    mistakes: tuple[str, ...]
    cautions: tuple[Caution, ...]
    variants: tuple[Variant, ...] = ()
