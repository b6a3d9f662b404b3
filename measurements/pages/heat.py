"""The heat map of families: a table whose cells say in figures and shapes what their shade says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from measurements.pages import figures
from measurements.pages.words import VERDICTS, Said
from measurements.queries.rows import FamilyRow

STEPS_DB = (10.0, 20.0, 25.0, 30.0, 35.0)  # where the shade changes


@dataclass(frozen=True)
class Cell:
    """level: 0 (nothing to show), 1 (lightest) to 6. median and devices are empty where nothing is shown."""

    band: str
    level: int
    median: str
    devices: str
    said: Said


@dataclass(frozen=True)
class Row:
    """A family in words, and one cell for each band."""

    core: str
    turns: int
    cells: tuple[Cell, ...]


def rows(families: Sequence[FamilyRow]) -> list[Row]:
    """The rows of the picture; bands in which no family shows a figure are left out."""
    shown = {
        each["band"]
        for family in families
        for each in family.evidence
        if each["rejection_db"]["median"] is not None
    }
    return [
        Row(
            core=core_words(family),
            turns=family.shared["turns"],
            cells=tuple(_cell(each) for each in family.evidence if each["band"] in shown),
        )
        for family in families
    ]


def core_words(family: FamilyRow) -> str:
    """The core or cores that a family of core and turns shares."""
    count = family.shared["core_count"]
    return (f"{count} x " if count > 1 else "") + f"{family.shared['core']} (mix {family.mix})"


def _cell(evidence: dict[str, Any]) -> Cell:
    median = evidence["rejection_db"]["median"]
    level = 0 if median is None else 1 + sum(median >= step for step in STEPS_DB)
    return Cell(
        band=evidence["band"],
        level=level,
        median="" if median is None else figures.plain(median),
        devices="" if median is None else str(evidence["devices"]),
        said=VERDICTS[evidence["verdict"]],
    )
