"""Wider families: designs that share core and turns, or mix and ratio; sparse designs still teach something.

On each band a family pools the devices of those of its designs whose own figures on that band this
viewer's circle may see. One that is withheld on a band, because too few people cover it or none is published,
is not in the pool there: so no subtraction of a family and its members says anything of it. Being seen
on another band is not enough. A family is not a verdict on any one of its designs.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import Any

import numpy as np

from measurements.disclosure import evidence_view
from measurements.disclosure.circles import Viewer, circle
from measurements.models import Design, group
from measurements.queries import designs, evidence_table
from measurements.queries.design_filters import DesignFilters
from measurements.queries.evidence_table import EvidenceTable
from measurements.queries.rows import DesignRow, FamilyRow
from measurements.verdict import band_verdict, rule
from measurements.verdict.many_designs import judge_designs

MOST = 25
CORE_AND_TURNS = "core_and_turns"
MIX_AND_RATIO = "mix_and_ratio"
SHARED: dict[str, tuple[str, ...]] = {
    CORE_AND_TURNS: ("core", "core_count", "turns", "mix"),
    MIX_AND_RATIO: ("mix", "ratio"),
}
Recipe = tuple[Any, ...]  # what a family shares: the columns of a row of SHARED


def by_core_and_turns(
    viewer: Viewer,
    *,
    filters: DesignFilters | None = None,
    bands: tuple[str, ...] = (),
    benchmark_db: float | None = None,
) -> tuple[FamilyRow, ...]:
    """Families of the designs that fit the filters, the most devices first, at most 25.

    bands: all of the plan by default. Raises BenchnightError as `designs.listing` does.
    """
    question = designs.question_of(viewer, bands, benchmark_db)
    table = evidence_table.current()
    if table is None:
        return ()
    members = _members(table, CORE_AND_TURNS, (filters or DesignFilters()).conditions())
    rows = (_row(_Family(CORE_AND_TURNS, *each), table, question) for each in members.items())
    seen = [row for row in rows if row.designs]
    order = sorted(seen, key=lambda row: (-row.pooled, row.shared["core"], row.shared["turns"], row.mix))
    return tuple(order[:MOST])


def of_design(
    viewer: Viewer, own: DesignRow, *, bands: tuple[str, ...] = (), benchmark_db: float | None = None
) -> tuple[FamilyRow, ...]:
    """The families a design belongs to, the narrower first; one that shows no other design is left out.

    own: as `designs.one` gave it to this viewer. Raises BenchnightError as that does.
    """
    question = designs.question_of(viewer, bands, benchmark_db)
    table = evidence_table.current()
    if table is None:
        return ()
    rows = []
    for kind, columns in SHARED.items():
        recipe = tuple(getattr(own, column) for column in columns)
        # a core of no known mix shares it with nobody
        found = _members(table, kind, dict(zip(columns, recipe, strict=True))) if own.mix else {}
        family = _Family(kind, recipe, found.get(recipe, []))
        if _seen(table, family.members, question) - {table.index_of.get(own.key)}:
            rows.append(_row(family, table, question))
    return tuple(rows)


@dataclass(frozen=True)
class _Family:
    """What is shared, its values, and the places of the designs in the table."""

    kind: str
    recipe: Recipe
    members: list[int]


def _members(table: EvidenceTable, kind: str, conditions: dict[str, Any]) -> dict[Recipe, list[int]]:
    """Places in the table of the designs that fit the conditions, by what they share."""
    members: dict[Recipe, list[int]] = defaultdict(list)
    found = Design.objects.standing().filter(**conditions).order_by("key")
    for key, *shared in found.values_list("key", *SHARED[kind]):
        if key in table.index_of:
            members[tuple(shared)].append(table.index_of[key])
    return members


def _row(family: _Family, table: EvidenceTable, question: designs.Question) -> FamilyRow:
    pools = {band: _Pool(table, family.members, band, question) for band in question.bands}
    shared = dict(zip(SHARED[family.kind], family.recipe, strict=True))
    most = max((len(pool.worst_db) for pool in pools.values()), default=0)
    public = circle(question.viewer) == "public"
    return FamilyRow(
        kind=family.kind,
        mix=shared.pop("mix"),
        shared=shared,
        designs=len({member for pool in pools.values() for member in pool.members}),
        pooled=int(evidence_view.coarse_count(most)) if public else most,  # ordered by what is shown
        evidence=tuple(_shown(pool, band, question) for band, pool in pools.items()),
    )


def _seen(table: EvidenceTable, members: list[int], question: designs.Question) -> set[int]:
    """The designs of a family that the viewer sees on some band of the question."""
    return {member for band in question.bands for member in _Pool(table, members, band, question).members}


class _Pool:
    """What a family holds on one band for one circle.

    members: places of the designs seen there. worst_db: their voting devices. people: behind them, at least.
    """

    def __init__(
        self, table: EvidenceTable, members: list[int], band: str, question: designs.Question
    ) -> None:
        own = evidence_table.judged(table, (band,), question.benchmark_db, _least(question))
        self.members = [member for member in members if own.code[member] != rule.NOT_ENOUGH]
        self.worst_db = np.empty(0)
        self.people = 0
        if self.members:
            column = table.worst_db[np.isin(table.design, self.members), table.bands.index(band)]
            self.worst_db = column[~np.isnan(column)]
            # one person may stand behind several of the designs: only the largest of them is certain
            self.people = int(own.contributors[self.members].max())


def _shown(pool: _Pool, band: str, question: designs.Question) -> dict[str, Any]:
    one_group = np.zeros(len(pool.worst_db), dtype=np.int64)
    judged = judge_designs(pool.worst_db, one_group, [pool.people], question.benchmark_db, _least(question))
    return evidence_view.shown(
        band_verdict.at(judged, 0),
        band=band,
        benchmark_db=question.benchmark_db,
        circle=circle(question.viewer),
        thresholds=group.thresholds(),
    )


def _least(question: designs.Question) -> int:
    return evidence_view.least_contributors(circle(question.viewer), group.thresholds())
