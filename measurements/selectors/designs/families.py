"""Wider families: designs that share core and turns, or mix and ratio; sparse designs still teach something.

A release computes them for each circle and keeps them (`services.releases.release_answers`); here they are
read. On each band a family pools the designs that this circle sees there, whatever a list is filtered by, so
that no subtraction of a family and its designs says anything of a design that is not shown. They are judged
against the benchmark that the group had at the release. A family is not a verdict on any one of its designs.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

from measurements.disclosure import evidence_view
from measurements.disclosure.family_columns import CORE_AND_TURNS, SHARED_COLUMNS, list_shared_columns
from measurements.disclosure.viewers import Circle, Viewer, get_circle
from measurements.models import Design, ReleaseAnswer, group_settings
from measurements.selectors.designs.design_filters import DesignFilters
from measurements.selectors.designs.evidence_questions import EvidenceQuery, build_evidence_query
from measurements.selectors.designs.rows import DesignRow, FamilyRow
from measurements.selectors.evidence import evidence_table
from measurements.verdict.judged_kinds import COMMON_MODE

MOST_FAMILIES = 25

Family = dict[str, Any]  # as the release keeps it


def list_families_by_core(
    viewer: Viewer,
    *,
    filters: DesignFilters | None = None,
    bands: tuple[str, ...] = (),
    benchmark_db: float | None = None,
    kind: str = COMMON_MODE,
) -> tuple[FamilyRow, ...]:
    """Return families with a design that fits the filters, the most devices first, at most 25.

    bands: all of the plan by default. kind: of the tests. Raises BenchnightError as `designs.list_designs`
    does.
    """
    question = build_evidence_query(viewer, bands, benchmark_db, kind=kind)
    fitting = Design.objects.standing().filter((filters or DesignFilters()).conditions())
    wanted = set(fitting.values_list(*list_shared_columns(CORE_AND_TURNS, kind)).distinct())
    rows = [
        _build_row(family, question)
        for family in _get_families(get_circle(viewer), kind)
        if family["kind"] == CORE_AND_TURNS and tuple(family["shared"]) in wanted
    ]
    seen = [row for row in rows if row.designs]
    order = sorted(seen, key=lambda row: (-row.pooled, row.shared["core"], row.shared["turns"], row.mix))
    return tuple(order[:MOST_FAMILIES])


def list_families_of_design(
    viewer: Viewer, own: DesignRow, *, bands: tuple[str, ...] = (), benchmark_db: float | None = None
) -> tuple[FamilyRow, ...]:
    """Return the families of a design, the narrower first; one that shows no other design is left out.

    own: as `designs.get_design` gave it to this viewer; its kind of test is that of the families. Raises
    BenchnightError as that does.
    """
    question = build_evidence_query(viewer, bands, benchmark_db, kind=own.kind)
    kept = _get_families(get_circle(viewer), own.kind)
    families = {(family["kind"], tuple(family["shared"])): family for family in kept}
    rows = []
    for name in SHARED_COLUMNS:
        columns = list_shared_columns(name, own.kind)
        family = families.get((name, tuple(getattr(own, column) for column in columns)))
        if family is not None and _list_members(family, question) - {own.key}:
            rows.append(_build_row(family, question))
    return tuple(rows)


def _get_families(circle: Circle, kind: str) -> tuple[Family, ...]:
    """Get what the newest release keeps for a circle of one kind of test."""
    newest = evidence_table.find_newest_release()
    return () if newest is None else _read_families(*newest, circle, kind)


@lru_cache(maxsize=12)
def _read_families(number: int, salt: bytes, circle: Circle, kind: str) -> tuple[Family, ...]:
    """Read them once in this process. salt: a restored database may hold another release of that number."""
    name = "families" if kind == COMMON_MODE else f"families_{kind}"
    kept = ReleaseAnswer.objects.filter(release=number, circle=circle, name=name)
    return tuple(kept.values_list("content", flat=True).first() or ())


def _list_members(family: Family, question: EvidenceQuery) -> set[str]:
    """List the designs of a family that the viewer sees on some band of the question."""
    there = (family["bands"].get(band) for band in question.bands)
    return {key for answer in there if answer is not None for key in answer["members"]}


def _build_row(family: Family, question: EvidenceQuery) -> FamilyRow:
    columns = list_shared_columns(family["kind"], question.get_kind("", ""))
    shared = dict(zip(columns, family["shared"], strict=True))
    answers = {band: family["bands"].get(band) for band in question.bands}
    return FamilyRow(
        kind=family["kind"],
        mix=shared.pop("mix"),
        shared=shared,
        designs=len(_list_members(family, question)),
        pooled=max((answer["pooled"] for answer in answers.values() if answer), default=0),
        evidence=tuple(
            _build_empty(band, question) if answer is None else answer["evidence"]
            for band, answer in answers.items()
        ),
    )


def _build_empty(band: str, question: EvidenceQuery) -> dict[str, Any]:
    """Build the evidence object of a band on which the family shows nothing."""
    kind = question.get_kind("", "")
    return evidence_view.build_evidence_view(
        None,
        band=band,
        kind=kind,
        limit=question.house_limits[kind],
        circle=get_circle(question.viewer),
        thresholds=group_settings.get_thresholds(),
        house_limit=question.house_limits[kind],
    )
