"""What leaves this room: frozen rows, already filtered for who asks.

Doors turn rows into JSON or HTML and add nothing. Public keys are called `key` here and `id` outside.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class DesignRow:
    """A design with its evidence as far as the viewer may see it (see contract, evidence of a design).

    kind: of the tests that the evidence is of. evidence: one object per band asked for. joint: the same over
    all bands asked, device by device; None for fewer than two bands. own_devices: how many of them are the
    viewer's.
    """

    key: str
    title: str
    recipe: dict[str, Any]
    purpose: str
    principle: str
    ratio: str
    mix: str
    core: str
    core_count: int
    turns: int
    style: str
    evidence: tuple[dict[str, Any], ...]
    joint: dict[str, Any] | None
    own_devices: int
    kind: str = "common_mode"


@dataclass(frozen=True)
class FamilyRow:
    """Designs that share part of a recipe, pooled; evidence is one object per band asked for.

    kind: "core_and_turns" (shared: core, core_count, turns) or "mix_and_ratio" (shared: ratio); both share
    the mix. designs: how many of them the viewer's circle sees on some of these bands. pooled: the most
    devices on one band, as coarsely as the circle sees counts; the order of rows.
    """

    kind: str
    mix: str
    shared: dict[str, Any]
    designs: int
    pooled: int
    evidence: tuple[dict[str, Any], ...]


@dataclass(frozen=True)
class NeighbourRow:
    """A design one step away, and the step in words: "two more turns", "same turns, other mix"."""

    step: str
    design: DesignRow


@dataclass(frozen=True)
class MatchRow:
    """A design like a recipe that is being typed. differs: what of it is otherwise; empty: nothing so far."""

    key: str
    title: str
    differs: tuple[str, ...]
