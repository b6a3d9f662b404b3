"""A design beside its families, band by band: each column says what it is, and none is a verdict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from measurements.pages import heat, standing
from measurements.pages.standing import Standing
from measurements.queries.families import CORE_AND_TURNS
from measurements.queries.rows import DesignRow, FamilyRow


@dataclass(frozen=True)
class Head:
    """A column: what its designs share, and how many there are to see."""

    title: str
    shared: str
    designs: int


@dataclass(frozen=True)
class FamilyTable:
    """rows: band, then the design itself and each family. Bands of which nothing is shown are left out."""

    heads: tuple[Head, ...]
    rows: tuple[tuple[str, tuple[Standing, ...]], ...]


def of(design: DesignRow, families: Sequence[FamilyRow]) -> FamilyTable | None:
    """None where the design has no family that shows more than itself."""
    if not families:
        return None
    by_band = zip(design.evidence, *(family.evidence for family in families), strict=True)
    rows = [
        (cells[0]["band"], tuple(standing.of(cell) for cell in cells))
        for cells in by_band
        if any(cell["devices"] is not None for cell in cells)
    ]
    return FamilyTable(tuple(_head(family) for family in families), tuple(rows))


def _head(family: FamilyRow) -> Head:
    if family.kind == CORE_AND_TURNS:
        turns = family.shared["turns"]
        shared = f"{heat.core_words(family)}, {turns} turn{'' if turns == 1 else 's'}"
        return Head("Same core and turns, any wire", shared, family.designs)
    return Head("Same mix and ratio, any core", f"mix {family.mix}, {family.shared['ratio']}", family.designs)
