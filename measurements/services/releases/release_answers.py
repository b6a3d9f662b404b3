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
from measurements.disclosure.family_columns import SHARED_COLUMNS, list_shared_columns
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
from measurements.verdict.judged_kinds import EVIDENCE_METRICS

# kind of test -> the name of its families; the first has kept its name from when it was the only one
FAMILIES = {
    "common_mode": "families",
    "insertion_loss": "families_insertion_loss",
    "load_match": "families_load_match",
}
CIRCLES: tuple[Circle, ...] = ("members", "public")


@dataclass(frozen=True)
class _BandSet:
    """One design on one band: its worst figures, in the unit of their metric, and the persons behind them."""

    design: int
    key: str
    worst: NDArray[np.float64]
    persons: int
    one_jig: bool


@dataclass(frozen=True)
class FamilyAnswers:
    """contents: by kind of test and circle, as `ReleaseAnswer` keeps them. sets: for the auditor."""

    contents: dict[tuple[str, Circle], list[dict[str, Any]]]
    sets: tuple[FamilySet, ...]


@dataclass(frozen=True)
class _Judging:
    """What the families of one kind of test are judged by. limit: in the unit of the kind's metric."""

    kind: str
    limit: float
    thresholds: Thresholds


def build_families(groups: Iterable[Sequence[int]]) -> FamilyAnswers:
    """Build the families of the cells that are open now. groups: designs that share a past."""
    thresholds, in_force = group_settings.get_release_thresholds(), benchmarks.get_current_limits()
    lone = {group[0] for group in groups}
    contents: dict[tuple[str, Circle], list[dict[str, Any]]] = {}
    sets: list[FamilySet] = []
    for kind in FAMILIES:
        judging = _Judging(kind, benchmarks.get_limit(in_force, kind), thresholds)
        by_design = _read_band_sets(kind)
        families = _list_families([design for design in by_design if design in lone], kind)
        for circle in CIRCLES:
            contents[kind, circle] = []
            for name, shared, members in families:
                found = _build_bands([by_design[each] for each in members], circle, judging)
                if not found:
                    continue
                answers = {band: answer for band, (answer, _) in found.items()}
                contents[kind, circle].append({"kind": name, "shared": list(shared), "bands": answers})
                what = f"the family {name} {shared} ({kind}) of {circle} on"
                sets += [
                    FamilySet(f"{what} {band}", band, pooled, kind) for band, (_, pooled) in found.items()
                ]
    return FamilyAnswers(contents, tuple(sets))


def store_families(release: Release, built: FamilyAnswers) -> None:
    """Keep them with the release. Inside the transaction that makes it."""
    ReleaseAnswer.objects.bulk_create(
        ReleaseAnswer(release=release, circle=circle, name=FAMILIES[kind], content=content)
        for (kind, circle), content in built.contents.items()
    )


def _read_band_sets(kind: str) -> dict[int, dict[str, _BandSet]]:
    """Read every open set of a kind by design and band; a band is in one open set of its design at most."""
    found: dict[int, dict[str, _BandSet]] = defaultdict(dict)
    columns = ("design", "design__key", "bands", "worst_db", "contributors", "one_jig")
    cells = Cell.objects.filter(last_release=None, kind=kind)
    for design, key, bands, stored, persons, one_jig in cells.values_list(*columns):
        # rounded as published: a stored float32 is a hair off the figure that it is for
        worst = np.frombuffer(bytes(stored), WORST_DTYPE).reshape(-1, len(bands)).astype(np.float64)
        for column, band in zip(worst.round(2).T, bands, strict=True):
            found[design][band] = _BandSet(design, key, column, persons, one_jig)
    return found


def _list_families(designs: list[int], kind: str) -> list[tuple[str, tuple[Any, ...], list[int]]]:
    """List each family of these designs: its name, what they share, and the designs by key."""
    found: list[tuple[str, tuple[Any, ...], list[int]]] = []
    for name in SHARED_COLUMNS:
        columns = list_shared_columns(name, kind)
        members: dict[tuple[Any, ...], list[int]] = defaultdict(list)
        rows = Design.objects.standing().exclude(mix="").order_by("key").values_list("pk", *columns)
        for design, *shared in rows:
            if design in designs:
                members[tuple(shared)].append(design)
        found += [(name, shared, own) for shared, own in members.items()]
    return found


def _build_bands(
    members: list[dict[str, _BandSet]], circle: Circle, judging: _Judging
) -> dict[str, tuple[dict[str, Any], tuple[int, ...]]]:
    """Build by band what the circle is shown of a family, and the designs that are pooled there."""
    least = max(evidence_view.get_min_contributors(circle, judging.thresholds), LEAST_PERSONS)
    bands = dict.fromkeys(band for own in members for band in own)
    found = {}
    for band in bands:
        seen = [own[band] for own in members if band in own and own[band].persons >= least]
        if seen:
            answer = _judge_pool(seen, band, circle, judging)
            found[band] = (answer, tuple(each.design for each in seen))
    return found


def _judge_pool(seen: list[_BandSet], band: str, circle: Circle, judging: _Judging) -> dict[str, Any]:
    """Judge a family's devices together, without the usual spread: that is of builds of one design."""
    worst = np.concatenate([each.worst for each in seen])
    one_group = np.zeros(worst.size, dtype=np.int64)
    # one person may have tested several of the designs: only the largest of them is certain
    people = max(each.persons for each in seen)
    unknown = np.full(worst.size, UNKNOWN_PERSON)
    weights = weigh_votes(one_group, unknown, ~np.isnan(worst), [people])
    votes = DesignVotes(worst, one_group, weights, np.array([all(each.one_jig for each in seen)]))
    least = evidence_view.get_min_contributors(circle, judging.thresholds)
    judged = judge_designs(votes, judging.limit, least, metric=EVIDENCE_METRICS[judging.kind])
    shown = evidence_view.build_evidence_view(
        band_verdict.extract_verdict(judged, 0),
        band=band,
        kind=judging.kind,
        limit=judging.limit,
        circle=circle,
        thresholds=judging.thresholds,
    )
    devices = worst.size
    return {
        "members": [each.key for each in seen],
        "pooled": int(rounding.coarsen_counts(devices)) if circle == "public" else devices,
        "evidence": shown,
    }
