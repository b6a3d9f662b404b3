"""The rows of a release's tables: one per design, kind and band, for each circle as it may see them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from measurements.disclosure import evidence_view
from measurements.disclosure.evidence_records import (
    PublishedDesign,
    PublishedIn,
    build_evidence_record,
    format_quarter,
)
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.viewers import Circle
from measurements.models import Cell, Release
from measurements.rf.request import Limits
from measurements.services.reference import benchmarks
from measurements.services.reference.band_plan import get_band_plan
from measurements.services.reference.benchmarks import get_limit
from measurements.services.releases import usual_spreads
from measurements.services.releases.evidence_rows import PERSON_DTYPE, WORST_DTYPE
from measurements.verdict import band_verdict, histogram
from measurements.verdict.band_verdict import Verdict
from measurements.verdict.histogram import Bin
from measurements.verdict.judged_kinds import EVIDENCE_KINDS, EVIDENCE_METRICS

CIRCLES: tuple[Circle, ...] = ("members", "public")
Records = list[dict[str, Any]]


@dataclass(frozen=True)
class _JudgedBand:
    """What a cell holds on one band, exact. limit: that it was held against."""

    band: str
    kind: str
    limit: float
    verdict: Verdict
    bins: tuple[Bin, ...] | None


def list_records_by_design(
    release: Release, limits: Thresholds
) -> Iterator[tuple[str, dict[Circle, Records]]]:
    """Yield each design of the open cells by its key, with the rows of each circle, by kind and band.

    limits: that the release was made under. What is under a circle's threshold is not in its rows at all.
    """
    judging = _Judging(release, limits, benchmarks.get_current_limits())
    published_in = PublishedIn(release.number, format_quarter(release.made_at.date()))
    plan = get_band_plan(release.region, release.made_at.date())
    places = {band.name: place for place, band in enumerate(plan)}
    cells = Cell.objects.filter(last_release=None).select_related("design").order_by("design__key", "id")
    for design, own in _group_by_design(cells.iterator()):
        judged = [each for cell in own for each in _judge_cell(cell, judging)]
        shown = sorted(
            (each for each in judged if each.band in places),
            key=lambda each: (EVIDENCE_KINDS.index(each.kind), places[each.band]),
        )
        yield (
            design.key,
            {circle: _build_records(design, published_in, shown, circle, limits) for circle in CIRCLES},
        )


@dataclass(frozen=True)
class _Judging:
    """What the cells of a release are judged by."""

    release: Release
    thresholds: Thresholds
    in_force: Limits


def _group_by_design(cells: Iterator[Cell]) -> Iterator[tuple[PublishedDesign, list[Cell]]]:
    """Yield the cells of each design together; `cells` come by design."""
    held: list[Cell] = []
    for cell in cells:
        if held and held[0].design_id != cell.design_id:
            yield _describe_design(held[0]), held
            held = []
        held.append(cell)
    if held:
        yield _describe_design(held[0]), held


def _describe_design(cell: Cell) -> PublishedDesign:
    return PublishedDesign(cell.design.key, cell.design.title, cell.design.recipe)


def _judge_cell(cell: Cell, judging: _Judging) -> Iterator[_JudgedBand]:
    thresholds, limit = judging.thresholds, get_limit(judging.in_force, cell.kind)
    if cell.contributors < thresholds.min_contributors:
        return
    # rounded as it is judged elsewhere: a stored float32 is a hair off the published figure
    worst = np.frombuffer(bytes(cell.worst_db), WORST_DTYPE).reshape(-1, len(cell.bands))
    worst = worst.astype(np.float64).round(2)
    persons = np.frombuffer(bytes(cell.persons), PERSON_DTYPE).astype(np.int64)
    step = evidence_view.get_histogram_step(cell.kind)
    for index, band in enumerate(cell.bands):
        verdict = band_verdict.judge_design(
            worst[:, index],
            limit,
            persons.tolist(),
            thresholds.min_contributors,
            thresholds.votes_per_contributor,
            metric=EVIDENCE_METRICS[cell.kind],
            usual_spread=usual_spreads.get_usual_spread(judging.release, cell.kind),
            one_jig=cell.one_jig,
        )
        bins = histogram.build_histogram(worst[:, index], persons, step)
        yield _JudgedBand(band, cell.kind, limit, verdict, bins)


def _build_records(
    design: PublishedDesign,
    published_in: PublishedIn,
    judged: Sequence[_JudgedBand],
    circle: Circle,
    limits: Thresholds,
) -> Records:
    views = (
        evidence_view.build_evidence_view(
            each.verdict,
            band=each.band,
            kind=each.kind,
            limit=each.limit,
            circle=circle,
            thresholds=limits,
            histogram=each.bins,
        )
        for each in judged
    )
    return [
        build_evidence_record(design, published_in, view)
        for view in views
        if view["verdict"] != evidence_view.NOT_ENOUGH
    ]
