"""The current release as arrays, a table for each kind of test, for look-ups over all designs at once.

A release is immutable, so this process keeps its arrays under its number and its salt (a restored
database may hold another release of that number); nothing of who asks is in them.
N devices (rows), B bands, D designs.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from django.db.models import Q
from numpy.typing import NDArray

from measurements.disclosure import evidence_view
from measurements.models import Cell, Release
from measurements.models.read_once import read_catalogue, read_once
from measurements.verdict import histogram
from measurements.verdict.band_verdict import Verdict, compute_worst_over_bands, extract_verdict
from measurements.verdict.contributor_counts import UNKNOWN_PERSON, VoteWeights, weigh_votes
from measurements.verdict.design_verdicts import DesignVerdicts, DesignVotes, judge_designs
from measurements.verdict.histogram import Bin
from measurements.verdict.judged_kinds import COMMON_MODE, EVIDENCE_KINDS, EVIDENCE_METRICS
from measurements.verdict.metric import Metric

_STORED = np.dtype("<f4")
_STORED_PERSON = np.dtype("<u2")


@dataclass(frozen=True, eq=False)
class EvidenceTable:
    """worst (N, B): in the unit of the kind's metric, NaN where a device has no figure.

    design (N,): index into `design_keys` (D). person (N,): alike for devices of one person in a design,
    otherwise without meaning; `UNKNOWN_PERSON` in cells of older releases. people (D,): contributors of each
    design, exact. one_jig (D,): whether all its figures come from one jig. bands: B names. usual_spread: of
    the group's designs, in units of the metric (`verdict.metric`), None where unknown.
    """

    release: int
    salt: bytes
    kind: str
    bands: tuple[str, ...]
    design_keys: tuple[str, ...]
    index_of: dict[str, int]
    worst: NDArray[np.float64]
    design: NDArray[np.int64]
    person: NDArray[np.int64]
    people: NDArray[np.int64]
    one_jig: NDArray[np.bool_]
    votes_per_contributor: int
    usual_spread: float | None

    @property
    def metric(self) -> Metric:
        return EVIDENCE_METRICS[self.kind]

    def judged(self, asked: tuple[str, ...], limit: float, min_contributors: int) -> DesignVerdicts:
        """Judge all designs on the bands asked, jointly, device by device."""
        votes = self._collect_votes(asked, slice(0, len(self.design)), 0, len(self.design_keys))
        return judge_designs(
            votes, limit, min_contributors, metric=self.metric, usual_spread=self.usual_spread
        )

    def judge_again(
        self, base: DesignVerdicts, asked: tuple[str, ...], limit: float, *, least: int, detail: int
    ) -> DesignVerdicts:
        """Judge against another limit than `base` the designs of at least `detail` persons.

        Nobody is shown a verdict, a chance or a share of the others against another limit
        (`disclosure.evidence_view`): they keep what `base` holds. least: persons below which there is no
        verdict at all.
        """
        chosen = np.flatnonzero(base.contributors >= detail)
        if not len(chosen):
            return replace(base, benchmark=limit)
        votes = self._collect_votes(asked, slice(0, len(self.design)), 0, len(self.design_keys))
        rows = np.isin(votes.design, chosen)
        weights = VoteWeights(persons=votes.weights.persons[chosen], weight=votes.weights.weight[rows])
        place = np.searchsorted(chosen, votes.design[rows])
        narrowed = DesignVotes(votes.worst[rows], place, weights, votes.one_jig[chosen])
        judged = judge_designs(narrowed, limit, least, metric=self.metric, usual_spread=self.usual_spread)
        merged = {}
        for name, figures in vars(base).items():
            if isinstance(figures, np.ndarray):
                merged[name] = figures.copy()
                merged[name][chosen] = getattr(judged, name)
        return replace(base, benchmark=limit, **merged)

    def judged_alone(
        self, index: int, asked: tuple[str, ...], limit: float, min_contributors: int
    ) -> DesignVerdicts:
        """Judge design `index` alone the same way, for readers who ask of one."""
        votes = self._collect_votes(asked, self._find_rows(index), index, index + 1)
        return judge_designs(
            votes, limit, min_contributors, metric=self.metric, usual_spread=self.usual_spread
        )

    def build_histogram(self, index: int, asked: tuple[str, ...]) -> tuple[Bin, ...] | None:
        """Build the bins of design `index` over the devices that vote on the bands asked."""
        rows = self._find_rows(index)
        votes = self._collect_votes(asked, rows, index, index + 1)
        step = evidence_view.get_histogram_step(self.kind)
        return histogram.build_histogram(votes.worst, self.person[rows], step)

    def count_persons(self, index: int, band: str) -> int:
        """Count the persons behind the devices of design `index` that vote on a band."""
        votes = self._collect_votes((band,), self._find_rows(index), index, index + 1)
        return int(votes.weights.persons[0])

    def _find_rows(self, index: int) -> slice:
        return slice(*np.searchsorted(self.design, [index, index + 1]))

    def _collect_votes(self, asked: tuple[str, ...], rows: slice, first: int, end: int) -> DesignVotes:
        """Collect what is judged of the designs `first` to before `end`, which have these rows."""
        columns = [self.bands.index(band) for band in asked if band in self.bands]
        own = self.worst[rows]
        if len(columns) < len(asked) or not len(own):
            worst = np.full(len(own), np.nan)
        else:
            worst = compute_worst_over_bands(own[:, columns], self.metric)
        design, people = self.design[rows] - first, self.people[first:end]
        weights = weigh_votes(design, self.person[rows], ~np.isnan(worst), people, self.votes_per_contributor)
        return DesignVotes(worst, design, weights, self.one_jig[first:end])


@read_once
def get_evidence_table(kind: str = COMMON_MODE) -> EvidenceTable | None:
    """Get the arrays of one kind of test of the newest release; None before the first."""
    newest = find_newest_release()
    return None if newest is None else _read_table(*newest, kind)


@read_catalogue
def find_newest_release() -> tuple[int, bytes] | None:
    """Find number and salt of the newest release; None before the first."""
    newest = Release.objects.order_by("-number").values_list("number", "salt").first()
    return None if newest is None else (newest[0], bytes(newest[1]))


@read_once
def get_evidence_tables() -> dict[str, EvidenceTable]:
    """Get the same by kind, of one release; empty before the first. Do not change it."""
    newest = find_newest_release()
    return {} if newest is None else {kind: _read_table(*newest, kind) for kind in EVIDENCE_KINDS}


@lru_cache(maxsize=2 * len(EVIDENCE_KINDS))
def _read_table(number: int, salt: bytes, kind: str) -> EvidenceTable:
    release = Release.objects.get(number=number)
    held = Q(last_release=None) | Q(last_release__gte=number)
    cells = Cell.objects.filter(held, first_release__lte=number, kind=kind).order_by("design__key", "band")
    columns = ("design__key", "contributors", "bands", "worst_db", "persons", "one_jig")
    rows = list(cells.values_list(*columns))
    bands = tuple(dict.fromkeys(band for row in rows for band in row[2]))
    blocks = [_cell_block(row[2], bytes(row[3]), bands) for row in rows]
    keys = tuple(dict.fromkeys(row[0] for row in rows))
    index_of = {key: index for index, key in enumerate(keys)}
    of_cell = np.array([index_of[row[0]] for row in rows], dtype=np.int64)
    return EvidenceTable(
        release=number,
        salt=salt,
        kind=kind,
        bands=bands,
        design_keys=keys,
        index_of=index_of,
        worst=np.vstack(blocks) if blocks else np.empty((0, len(bands))),
        design=np.repeat(of_cell, [len(block) for block in blocks]).astype(np.int64),
        person=_join_persons([bytes(row[4]) for row in rows], [len(block) for block in blocks]),
        people=_combine_cells(np.maximum, of_cell, [row[1] for row in rows], len(keys)).astype(np.int64),
        one_jig=_combine_cells(np.minimum, of_cell, [row[5] for row in rows], len(keys), 1).astype(np.bool_),
        votes_per_contributor=int(release.thresholds["votes_per_contributor"]),
        usual_spread=release.usual_spreads.get(kind, {}).get("spread"),
    )


def _combine_cells(
    how: np.ufunc, of_cell: NDArray[np.int64], values: list[int], designs: int, start: int = 0
) -> NDArray[np.int64]:
    """Combine (D,) one value of each design out of those of its cells."""
    found = np.full(designs, start, dtype=np.int64)
    how.at(found, of_cell, np.array(values, dtype=np.int64))
    return found


def _join_persons(stored: list[bytes], devices: list[int]) -> NDArray[np.int64]:
    """Join the (N,) persons of all cells one after another; unknown where a cell holds none."""
    parts = [
        np.frombuffer(own, _STORED_PERSON).astype(np.int64) if own else np.full(count, UNKNOWN_PERSON)
        for own, count in zip(stored, devices, strict=True)
    ]
    return np.concatenate(parts) if parts else np.empty(0, dtype=np.int64)


def get_verdicts(
    table: EvidenceTable, asked: tuple[str, ...], limit: float, *, house_limit: float, least: int, detail: int
) -> DesignVerdicts:
    """Get the verdicts of all designs on the bands asked, kept: the same question has one answer a release.

    house_limit: the group's own. Another one is judged where somebody may be shown an answer: in designs of
    at least `detail` persons, so that strangers with a limit each keep nobody waiting. least: persons below
    which there is no verdict.
    """
    which = (table.release, table.salt, table.kind, asked)
    if limit == house_limit:
        return _compute_verdicts(*which, limit, least)
    return _compute_other_verdicts(*which, limit, house_limit, least, detail)


def get_verdict(
    table: EvidenceTable, index: int, asked: tuple[str, ...], limit: float, min_contributors: int
) -> Verdict:
    """Get `EvidenceTable.judged_alone` of design `index`, kept likewise."""
    return _compute_verdict(table.release, table.salt, table.kind, index, asked, limit, min_contributors)


def get_histogram(table: EvidenceTable, index: int, asked: tuple[str, ...]) -> tuple[Bin, ...] | None:
    """Get `EvidenceTable.build_histogram` of design `index`, kept likewise."""
    return _compute_histogram(table.release, table.salt, table.kind, index, asked)


@lru_cache(maxsize=4096)
def _compute_histogram(
    number: int, salt: bytes, kind: str, index: int, asked: tuple[str, ...]
) -> tuple[Bin, ...] | None:
    return _read_table(number, salt, kind).build_histogram(index, asked)


@lru_cache(maxsize=4096)
def _compute_verdict(
    number: int,
    salt: bytes,
    kind: str,
    index: int,
    asked: tuple[str, ...],
    limit: float,
    min_contributors: int,
) -> Verdict:
    judged = _read_table(number, salt, kind).judged_alone(index, asked, limit, min_contributors)
    return extract_verdict(judged, 0)


@lru_cache(maxsize=64)
def _compute_other_verdicts(
    number: int,
    salt: bytes,
    kind: str,
    asked: tuple[str, ...],
    limit: float,
    house_limit: float,
    least: int,
    detail: int,
) -> DesignVerdicts:
    base = _compute_verdicts(number, salt, kind, asked, house_limit, least)
    return _read_table(number, salt, kind).judge_again(base, asked, limit, least=least, detail=detail)


@lru_cache(maxsize=64)
def _compute_verdicts(
    number: int, salt: bytes, kind: str, asked: tuple[str, ...], limit: float, min_contributors: int
) -> DesignVerdicts:
    return _read_table(number, salt, kind).judged(asked, limit, min_contributors)


def _cell_block(own: list[str], stored: bytes, bands: tuple[str, ...]) -> NDArray[np.float64]:
    """Read a cell's matrix with its columns in the order of `bands`, NaN for bands it does not have.

    Rounded as published: a stored float32 is a hair off the published figure.
    """
    matrix = np.frombuffer(stored, _STORED).reshape(-1, len(own)).astype(np.float64).round(2)
    block = np.full((len(matrix), len(bands)), np.nan)
    block[:, [bands.index(band) for band in own]] = matrix
    return block
