"""A design beside its families, band by band: each column says what it is, and none is a verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from measurements.disclosure.family_columns import CORE_AND_TURNS
from measurements.pages.designs import presenters
from measurements.pages.designs.judged_words import get_words
from measurements.pages.designs.presenters import EvidenceSummary
from measurements.pages.layout.wording import Badge, get_verdict_badge
from measurements.rf.ferrites import core_names
from measurements.rf.ferrites.core_names import CoreLook, Size
from measurements.selectors.designs.rows import DesignRow, FamilyRow
from measurements.selectors.reference import reference

# The heat map of families: a table whose cells say in figures and shapes what their shade says.

# where the shade changes, from poor to good: darker is better
HEAT_STEPS = {
    "rejection_db": (10.0, 20.0, 25.0, 30.0, 35.0),
    "loss_db": (2.0, 1.0, 0.5, 0.3, 0.15),
    "swr": (3.0, 2.0, 1.5, 1.3, 1.1),
}


@dataclass(frozen=True)
class HeatCell:
    """level: 0 (nothing to show), 1 (lightest) to 6. median and devices are empty where nothing is shown."""

    band: str
    level: int
    median: str
    devices: str
    said: Badge


@dataclass(frozen=True)
class HeatRow:
    """A family in words, and one cell for each band."""

    core: str
    turns: int
    ratio: str
    cells: tuple[HeatCell, ...]


def build_heat_rows(families: Sequence[FamilyRow]) -> list[HeatRow]:
    """Return the rows of the picture; bands in which no family shows a figure are left out."""
    shown = {
        each["band"]
        for family in families
        for each in family.evidence
        if each[get_words(each).metric]["median"] is not None
    }
    sizes_mm = reference.get_core_sizes_mm()
    return [
        HeatRow(
            core=format_family_core(family, sizes_mm),
            turns=family.shared["turns"],
            ratio=family.shared.get("ratio", ""),
            cells=tuple(_build_heat_cell(each) for each in family.evidence if each["band"] in shown),
        )
        for family in families
    ]


def format_family_core(family: FamilyRow, sizes_mm: Mapping[str, Size]) -> str:
    """Name the core or cores that a family of core and turns shares, as titles do.

    sizes_mm: of listed cores by part number; another core has its own size.
    """
    count, core = family.shared["core_count"], family.shared["core"]
    name = f"{core} (mix {family.mix})"
    if core in sizes_mm:
        shape = "toroid" if core_names.find_size_name("toroid", sizes_mm[core]) else "core"
        name = core_names.title_core(CoreLook(shape, family.mix, sizes_mm[core], core))
    return (f"{count} × " if count > 1 else "") + name


def name_family(core: str, family: FamilyRow) -> str:
    """Name a family of core and turns, with the ratio where its evidence is of one."""
    turns = family.shared["turns"]
    ratio = f", {family.shared['ratio']}" if "ratio" in family.shared else ""
    return f"{core}, {turns} turn{'' if turns == 1 else 's'}{ratio}"


def _build_heat_cell(evidence: dict[str, Any]) -> HeatCell:
    words = get_words(evidence)
    median, steps = evidence[words.metric]["median"], HEAT_STEPS[words.metric]
    reached = (
        0
        if median is None
        else sum(median >= step if words.is_rejection else median <= step for step in steps)
    )
    level = 0 if median is None else 1 + reached
    return HeatCell(
        band=evidence["band"],
        level=level,
        median="" if median is None else words.format_figure(median),
        devices="" if median is None else str(evidence["devices"]),
        said=get_verdict_badge(evidence["verdict"]),
    )


@dataclass(frozen=True)
class FamilyColumn:
    """A column: what its designs share, and how many there are to see."""

    title: str
    shared: str
    designs: int


@dataclass(frozen=True)
class FamilyTable:
    """rows: band, then the design itself and each family. Bands of which nothing is shown are left out."""

    heads: tuple[FamilyColumn, ...]
    rows: tuple[tuple[str, tuple[EvidenceSummary, ...]], ...]


def build_family_table(design: DesignRow, families: Sequence[FamilyRow]) -> FamilyTable | None:
    """Return None where the design has no family that shows more than itself."""
    if not families:
        return None
    sizes_mm = reference.get_core_sizes_mm()
    by_band = zip(design.evidence, *(family.evidence for family in families), strict=True)
    rows = [
        (cells[0]["band"], tuple(presenters.summarise_evidence(cell) for cell in cells))
        for cells in by_band
        if any(cell["devices"] is not None for cell in cells)
    ]
    return FamilyTable(tuple(_build_family_column(family, sizes_mm) for family in families), tuple(rows))


def _build_family_column(family: FamilyRow, sizes_mm: Mapping[str, Size]) -> FamilyColumn:
    if family.kind == CORE_AND_TURNS:
        shared = name_family(format_family_core(family, sizes_mm), family)
        return FamilyColumn("Same core and turns, any wire", shared, family.designs)
    return FamilyColumn(
        "Same mix and ratio, any core", f"mix {family.mix}, {family.shared['ratio']}", family.designs
    )
