"""Wider families: designs that share core and turns, whatever the wire; sparse designs still teach something.

On each band a family pools the devices of those of its designs whose own figures on that band this
viewer's circle may see. One that is withheld on a band, because too few people cover it or none is published,
is not in the pool there: so no subtraction of a family and its members says anything of it. Being seen
on another band is not enough. A family is not a verdict on any one of its designs.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any

import numpy as np

from measurements.disclosure import evidence_view
from measurements.disclosure.circles import Viewer, circle
from measurements.models import Design, group
from measurements.queries import designs, evidence_table
from measurements.queries.design_filters import DesignFilters
from measurements.queries.evidence_table import EvidenceTable
from measurements.queries.rows import FamilyRow
from measurements.verdict import band_verdict, rule
from measurements.verdict.many_designs import judge_designs

MOST = 25
Recipe = tuple[str, int, int, str]  # core, how many, turns, mix
_SHARED = ("core", "core_count", "turns", "mix")


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
    members = _members(table, filters or DesignFilters())
    rows = (_row(table, recipe, own, question) for recipe, own in members.items())
    seen = [row for row in rows if row.designs]
    return tuple(sorted(seen, key=lambda row: (-row.pooled, row.core, row.turns, row.mix))[:MOST])


def _members(table: EvidenceTable, filters: DesignFilters) -> dict[Recipe, list[int]]:
    """Places in the table of the designs that fit the filters, by what they share."""
    members: dict[Recipe, list[int]] = defaultdict(list)
    found = Design.objects.filter(**filters.conditions()).order_by("key")
    for key, *shared in found.values_list("key", *_SHARED):
        if key in table.index_of:
            members[tuple(shared)].append(table.index_of[key])
    return members


def _row(table: EvidenceTable, recipe: Recipe, members: list[int], question: designs.Question) -> FamilyRow:
    pools = {band: _Pool(table, members, band, question) for band in question.bands}
    core, core_count, turns, mix = recipe
    most = max((len(pool.worst_db) for pool in pools.values()), default=0)
    public = circle(question.viewer) == "public"
    return FamilyRow(
        core,
        core_count,
        turns,
        mix,
        designs=len({member for pool in pools.values() for member in pool.members}),
        pooled=int(evidence_view.coarse_count(most)) if public else most,  # ordered by what is shown
        evidence=tuple(_shown(pool, band, question) for band, pool in pools.items()),
    )


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
