"""Wider families: designs that share core and turns, whatever the wire; sparse designs still teach something.

A family pools the published devices of its designs, and only of those whose own cell this viewer's circle
may see: so it is a function of what the viewer sees anyway, and no subtraction of a family and its
members gives away a design that is withheld. It is not a verdict on any one of its designs.
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
from measurements.verdict import band_verdict
from measurements.verdict.many_designs import judge_designs

MOST = 25


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
    columns = ("key", "core", "core_count", "turns", "mix")
    members: dict[tuple[str, int, int, str], list[int]] = defaultdict(list)
    least = evidence_view.least_contributors(circle(viewer), group.thresholds())
    found = Design.objects.filter(**(filters or DesignFilters()).conditions()).order_by("key")
    for key, *recipe in found.values_list(*columns):
        index = table.index_of.get(key)
        if index is not None and table.people[index] >= least:
            members[tuple(recipe)].append(index)  # type: ignore[index]  # core, count, turns, mix
    rows = [_row(table, recipe, own, question) for recipe, own in members.items()]
    return tuple(sorted(rows, key=lambda row: (-row.pooled, row.core, row.turns))[:MOST])


def _row(
    table: EvidenceTable, recipe: tuple[str, int, int, str], members: list[int], question: designs.Question
) -> FamilyRow:
    core, core_count, turns, mix = recipe
    pool = table.worst_db[np.isin(table.design, members)]
    # the same person may stand behind several of the designs: only the largest of them is certain
    people = int(table.people[members].max())
    cells = tuple(_cell(table, pool, band, people, question) for band in question.bands)
    return FamilyRow(core, core_count, turns, mix, designs=len(members), pooled=len(pool), evidence=cells)


def _cell(
    table: EvidenceTable, pool: Any, band: str, people: int, question: designs.Question
) -> dict[str, Any]:
    verdict = None
    if band in table.bands:
        values = pool[:, table.bands.index(band)]
        voting = int((~np.isnan(values)).sum())
        least = evidence_view.least_contributors(circle(question.viewer), group.thresholds())
        certain = max(0, people - (len(values) - voting))
        judged = judge_designs(
            values, np.zeros(len(values), dtype=np.int64), [certain], question.benchmark_db, least
        )
        verdict = band_verdict.at(judged, 0)
    return evidence_view.shown(
        verdict,
        band=band,
        benchmark_db=question.benchmark_db,
        circle=circle(question.viewer),
        thresholds=group.thresholds(),
    )
