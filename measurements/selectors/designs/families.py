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
from measurements.disclosure.viewers import Viewer, get_circle
from measurements.models import Design, group_settings
from measurements.selectors.designs import designs
from measurements.selectors.designs.design_filters import DesignFilters
from measurements.selectors.designs.rows import DesignRow, FamilyRow
from measurements.selectors.evidence import evidence_table
from measurements.selectors.evidence.evidence_table import EvidenceTable
from measurements.verdict import band_verdict
from measurements.verdict.chance import LEAST_PERSONS
from measurements.verdict.contributor_counts import UNKNOWN_PERSON, weigh_votes
from measurements.verdict.design_verdicts import DesignVotes, judge_designs

MOST_FAMILIES = 25
CORE_AND_TURNS = "core_and_turns"
MIX_AND_RATIO = "mix_and_ratio"
SHARED_COLUMNS: dict[str, tuple[str, ...]] = {
    CORE_AND_TURNS: ("core", "core_count", "turns", "mix"),
    MIX_AND_RATIO: ("mix", "ratio"),
}
SharedValues = tuple[Any, ...]  # what a family shares: the columns of a row of SHARED


def list_families_by_core(
    viewer: Viewer,
    *,
    filters: DesignFilters | None = None,
    bands: tuple[str, ...] = (),
    benchmark_db: float | None = None,
) -> tuple[FamilyRow, ...]:
    """Return families of the designs that fit the filters, the most devices first, at most 25.

    bands: all of the plan by default. Raises BenchnightError as `designs.listing` does.
    """
    question = designs.build_evidence_query(viewer, bands, benchmark_db)
    table = evidence_table.get_evidence_table()
    if table is None:
        return ()
    members = _members(table, CORE_AND_TURNS, (filters or DesignFilters()).conditions())
    rows = (_family_row(_Family(CORE_AND_TURNS, *each), table, question) for each in members.items())
    seen = [row for row in rows if row.designs]
    order = sorted(seen, key=lambda row: (-row.pooled, row.shared["core"], row.shared["turns"], row.mix))
    return tuple(order[:MOST_FAMILIES])


def list_families_of_design(
    viewer: Viewer, own: DesignRow, *, bands: tuple[str, ...] = (), benchmark_db: float | None = None
) -> tuple[FamilyRow, ...]:
    """Return the families a design belongs to, the narrower first; one that shows no other design is left
    out.

    own: as `designs.one` gave it to this viewer. Raises BenchnightError as that does.
    """
    question = designs.build_evidence_query(viewer, bands, benchmark_db)
    table = evidence_table.get_evidence_table()
    if table is None:
        return ()
    rows = []
    for kind, columns in SHARED_COLUMNS.items():
        recipe = tuple(getattr(own, column) for column in columns)
        # a core of no known mix shares it with nobody
        found = _members(table, kind, dict(zip(columns, recipe, strict=True))) if own.mix else {}
        family = _Family(kind, recipe, found.get(recipe, []))
        if _visible_members(table, family.members, question) - {table.index_of.get(own.key)}:
            rows.append(_family_row(family, table, question))
    return tuple(rows)


@dataclass(frozen=True)
class _Family:
    """What is shared, its values, and the places of the designs in the table."""

    kind: str
    recipe: SharedValues
    members: list[int]


def _members(table: EvidenceTable, kind: str, conditions: dict[str, Any]) -> dict[SharedValues, list[int]]:
    """Return places in the table of the designs that fit the conditions, by what they share."""
    members: dict[SharedValues, list[int]] = defaultdict(list)
    found = Design.objects.standing().filter(**conditions).order_by("key")
    for key, *shared in found.values_list("key", *SHARED_COLUMNS[kind]):
        if key in table.index_of:
            members[tuple(shared)].append(table.index_of[key])
    return members


def _family_row(family: _Family, table: EvidenceTable, question: designs.EvidenceQuery) -> FamilyRow:
    pools = {band: _Pool(table, family.members, band, question) for band in question.bands}
    shared = dict(zip(SHARED_COLUMNS[family.kind], family.recipe, strict=True))
    most = max((len(pool.worst_db) for pool in pools.values()), default=0)
    public = get_circle(question.viewer) == "public"
    return FamilyRow(
        kind=family.kind,
        mix=shared.pop("mix"),
        shared=shared,
        designs=len({member for pool in pools.values() for member in pool.members}),
        pooled=int(evidence_view.coarsen_counts(most)) if public else most,  # ordered by what is shown
        evidence=tuple(_pool_evidence(pool, band, question) for band, pool in pools.items()),
    )


def _visible_members(table: EvidenceTable, members: list[int], question: designs.EvidenceQuery) -> set[int]:
    """Return the designs of a family that the viewer sees on some band of the question."""
    return {member for band in question.bands for member in _Pool(table, members, band, question).members}


class _Pool:
    """What a family holds on one band for one circle.

    members: places of the designs seen there. worst_db: their voting devices. people: behind them, at least.
    one_jig: whether each of the designs was measured with one jig, which may be the same.
    """

    def __init__(
        self, table: EvidenceTable, members: list[int], band: str, question: designs.EvidenceQuery
    ) -> None:
        # a design is seen on a band from as many persons on as a verdict needs
        least = max(_least_contributors(question), LEAST_PERSONS)
        persons = {member: table.count_persons(member, band) for member in members}
        self.members = [member for member in members if persons[member] >= least]
        self.worst_db = np.empty(0)
        self.people = 0
        self.one_jig = bool(self.members) and bool(table.one_jig[self.members].all())
        if self.members:
            column = table.worst_db[np.isin(table.design, self.members), table.bands.index(band)]
            self.worst_db = column[~np.isnan(column)]
            # one person may stand behind several of the designs: only the largest of them is certain
            self.people = max(persons[member] for member in self.members)


def _pool_evidence(pool: _Pool, band: str, question: designs.EvidenceQuery) -> dict[str, Any]:
    """Judge a family's devices together, without the usual spread: that is of builds of one design."""
    one_group = np.zeros(len(pool.worst_db), dtype=np.int64)
    persons = np.full(len(pool.worst_db), UNKNOWN_PERSON)
    weights = weigh_votes(one_group, persons, ~np.isnan(pool.worst_db), [pool.people])
    votes = DesignVotes(pool.worst_db, one_group, weights, np.array([pool.one_jig]))
    judged = judge_designs(votes, question.benchmark_db, _least_contributors(question))
    return evidence_view.build_evidence_view(
        band_verdict.extract_verdict(judged, 0),
        band=band,
        benchmark_db=question.benchmark_db,
        circle=get_circle(question.viewer),
        thresholds=group_settings.get_thresholds(),
        house_benchmark_db=question.house_benchmark_db,
    )


def _least_contributors(question: designs.EvidenceQuery) -> int:
    return evidence_view.get_min_contributors(
        get_circle(question.viewer),
        group_settings.get_thresholds(),
        at_house_benchmark=question.benchmark_db == question.house_benchmark_db,
    )
