"""Computes at a release what lists and the heat map show of families, for each circle, and keeps it as it is.

A family is several designs that share part of a recipe (`SHARED_COLUMNS`). On each band it pools the sets of
those of its designs that the circle sees there, and nothing else: it is a sum of what is published anyway. Of
designs that share a past only the first is pooled, because their sets may share votes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from measurements.disclosure import evidence_view, rounding
from measurements.disclosure.family_columns import SHARED_COLUMNS
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.viewers import Circle
from measurements.models import Cell, Design, Release, ReleaseAnswer, group_settings
from measurements.services.reference import benchmarks
from measurements.services.releases.evidence_rows import WORST_DTYPE
from measurements.services.releases.ledger_audit import FamilySet
from measurements.verdict import band_verdict
from measurements.verdict.chance import LEAST_PERSONS
from measurements.verdict.contributor_counts import UNKNOWN_PERSON, weigh_votes
from measurements.verdict.design_verdicts import DesignVotes, judge_designs

FAMILIES = "families"
CIRCLES: tuple[Circle, ...] = ("members", "public")


@dataclass(frozen=True)
class _BandSet:
    """One design on one band: its worst rejections, dB, and the persons behind them."""

    design: int
    key: str
    worst_db: NDArray[np.float64]
    persons: int
    one_jig: bool


@dataclass(frozen=True)
class FamilyAnswers:
    """contents: of each circle, as `ReleaseAnswer` keeps them. sets: for the auditor."""

    contents: dict[Circle, list[dict[str, Any]]]
    sets: tuple[FamilySet, ...]


def build_families(groups: Iterable[Sequence[int]]) -> FamilyAnswers:
    """Build the families of the cells that are open now. groups: designs that share a past."""
    limits, benchmark_db = (
        group_settings.get_release_thresholds(),
        benchmarks.get_current_limits().benchmark_db,
    )
    lone = {group[0] for group in groups}
    by_design = _read_band_sets()
    families = _list_families([design for design in by_design if design in lone])
    contents: dict[Circle, list[dict[str, Any]]] = {circle: [] for circle in CIRCLES}
    sets: list[FamilySet] = []
    for circle in CIRCLES:
        for kind, shared, members in families:
            found = _build_bands([by_design[each] for each in members], circle, limits, benchmark_db)
            if not found:
                continue
            answers = {band: answer for band, (answer, _) in found.items()}
            contents[circle].append({"kind": kind, "shared": list(shared), "bands": answers})
            what = f"the family {kind} {shared} of {circle} on"
            sets += [FamilySet(f"{what} {band}", band, pooled) for band, (_, pooled) in found.items()]
    return FamilyAnswers(contents, tuple(sets))


def store_families(release: Release, built: FamilyAnswers) -> None:
    """Keep them with the release. Inside the transaction that makes it."""
    ReleaseAnswer.objects.bulk_create(
        ReleaseAnswer(release=release, circle=circle, name=FAMILIES, content=content)
        for circle, content in built.contents.items()
    )


def _read_band_sets() -> dict[int, dict[str, _BandSet]]:
    """Read every open set by design and band; a band is in one open set of its design at most."""
    found: dict[int, dict[str, _BandSet]] = defaultdict(dict)
    columns = ("design", "design__key", "bands", "worst_db", "contributors", "one_jig")
    for design, key, bands, stored, persons, one_jig in Cell.objects.filter(last_release=None).values_list(
        *columns
    ):
        # rounded as published: a stored float32 is a hair off the figure that it is for
        worst_db = np.frombuffer(bytes(stored), WORST_DTYPE).reshape(-1, len(bands)).astype(np.float64)
        for column, band in zip(worst_db.round(2).T, bands, strict=True):
            found[design][band] = _BandSet(design, key, column, persons, one_jig)
    return found


def _list_families(designs: list[int]) -> list[tuple[str, tuple[Any, ...], list[int]]]:
    """List each family of these designs: its kind, what they share, and the designs by key."""
    found: list[tuple[str, tuple[Any, ...], list[int]]] = []
    for kind, columns in SHARED_COLUMNS.items():
        members: dict[tuple[Any, ...], list[int]] = defaultdict(list)
        rows = Design.objects.standing().exclude(mix="").order_by("key").values_list("pk", *columns)
        for design, *shared in rows:
            if design in designs:
                members[tuple(shared)].append(design)
        found += [(kind, shared, own) for shared, own in members.items()]
    return found


def _build_bands(
    members: list[dict[str, _BandSet]], circle: Circle, limits: Thresholds, benchmark_db: float
) -> dict[str, tuple[dict[str, Any], tuple[int, ...]]]:
    """Build by band what the circle is shown of a family, and the designs that are pooled there."""
    least = max(evidence_view.get_min_contributors(circle, limits), LEAST_PERSONS)
    bands = dict.fromkeys(band for own in members for band in own)
    found = {}
    for band in bands:
        seen = [own[band] for own in members if band in own and own[band].persons >= least]
        if seen:
            answer = _judge_pool(seen, band, circle, limits, benchmark_db)
            found[band] = (answer, tuple(each.design for each in seen))
    return found


def _judge_pool(
    seen: list[_BandSet], band: str, circle: Circle, limits: Thresholds, benchmark_db: float
) -> dict[str, Any]:
    """Judge a family's devices together, without the usual spread: that is of builds of one design."""
    worst_db = np.concatenate([each.worst_db for each in seen])
    one_group = np.zeros(worst_db.size, dtype=np.int64)
    # one person may have tested several of the designs: only the largest of them is certain
    people = max(each.persons for each in seen)
    unknown = np.full(worst_db.size, UNKNOWN_PERSON)
    weights = weigh_votes(one_group, unknown, ~np.isnan(worst_db), [people])
    votes = DesignVotes(worst_db, one_group, weights, np.array([all(each.one_jig for each in seen)]))
    judged = judge_designs(votes, benchmark_db, evidence_view.get_min_contributors(circle, limits))
    shown = evidence_view.build_evidence_view(
        band_verdict.extract_verdict(judged, 0),
        band=band,
        benchmark_db=benchmark_db,
        circle=circle,
        thresholds=limits,
    )
    devices = worst_db.size
    return {
        "members": [each.key for each in seen],
        "pooled": int(rounding.coarsen_counts(devices)) if circle == "public" else devices,
        "evidence": shown,
    }
