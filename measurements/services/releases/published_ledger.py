"""Reads the private ledger as sets of votes: once for a release, for everything that needs all of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from uuid import UUID

import numpy as np

from measurements.disclosure.votes import Vote, list_contributors
from measurements.models import Cell, Device, PoolVote, PublishedPool, PublishedVote, SentVote
from measurements.services.devices.contributors import build_voter_key
from measurements.services.releases.evidence_rows import WORST_DTYPE
from measurements.verdict.judged_kinds import COMMON_MODE


@dataclass(frozen=True)
class CellVotes:
    """The votes behind one cell. scope: see `disclosure.vote_sets`. last: None while it is published.

    gaps: bands of the cell on which some device has no figure; there it would rest on fewer votes.
    """

    cell: UUID
    design: int
    kind: str
    scope: str
    bands: tuple[str, ...]
    first: int
    last: int | None
    votes: frozenset[Vote]
    gaps: tuple[str, ...]

    def is_open_at(self, release: int) -> bool:
        return self.first <= release and (self.last is None or self.last >= release)


@dataclass(frozen=True)
class PoolVotes:
    """One making of a pool. votes: None where it was made of cells that were open then.

    least: persons behind each of those cells. kind: of the tests behind them.
    """

    name: str
    release: int
    votes: frozenset[Vote] | None
    least: int
    kind: str = COMMON_MODE


@dataclass(frozen=True)
class PublishedLedger:
    """All that was ever published, oldest first, and who holds each device now (device -> person).

    sent: design and kind -> all votes that were ever sent of it to a pool of groups.
    """

    cells: tuple[CellVotes, ...]
    pools: tuple[PoolVotes, ...]
    holders: dict[str, str]
    sent: Mapping[tuple[int, str], frozenset[Vote]] = field(default_factory=dict)

    def list_pool_states(self, name: str) -> list[frozenset[Vote]]:
        """List the sets of votes behind each making of a pool, oldest first."""
        return [self._get_votes(pool) for pool in self.pools if pool.name == name]

    def _get_votes(self, pool: PoolVotes) -> frozenset[Vote]:
        if pool.votes is None:
            return self.join_core_votes(pool.release, pool.least, pool.kind)
        return pool.votes

    def join_core_votes(self, release: int, least: int, kind: str) -> frozenset[Vote]:
        """Join the votes behind all core sets of a kind of at least so many persons that were open at a
        release.
        """
        return frozenset(
            vote
            for cell in self.cells
            if cell.kind == kind
            and cell.scope == ""
            and cell.is_open_at(release)
            and len(list_contributors(cell.votes)) >= least
            for vote in cell.votes
        )


def read_ledger(number: int) -> PublishedLedger:
    """Read everything that was published up to release `number`, which is being made."""
    votes: dict[UUID, set[Vote]] = defaultdict(set)
    columns = ("cell_id", "contributor_key", "device_key", "test_key")
    for cell, *keys in PublishedVote.objects.values_list(*columns).iterator():
        votes[cell].add(Vote(*keys))
    fields = ("pk", "design", "kind", "band", "bands", "first_release", "last_release")
    rows = Cell.objects.order_by("first_release", "design", "kind", "band").values_list(*fields)
    gaps = _find_gaps(number)
    cells = tuple(
        CellVotes(pk, design, kind, scope, tuple(bands), first, last, frozenset(votes[pk]), gaps.get(pk, ()))
        for pk, design, kind, scope, bands, first, last in rows
        if pk in votes
    )
    return PublishedLedger(cells, _read_pools(), _read_holders(), read_sent_votes())


def read_sent_votes(designs: Collection[int] | None = None) -> dict[tuple[int, str], frozenset[Vote]]:
    """Read by design and kind the votes that were ever sent to a pool of groups.

    designs: only of these.
    """
    sent: dict[tuple[int, str], set[Vote]] = defaultdict(set)
    rows = SentVote.objects.all() if designs is None else SentVote.objects.filter(design__in=designs)
    columns = ("design_id", "kind", "contributor_key", "device_key", "test_key")
    for design, kind, *keys in rows.values_list(*columns).iterator():
        sent[design, kind].add(Vote(*keys))
    return {key: frozenset(votes) for key, votes in sorted(sent.items())}


def _find_gaps(number: int) -> dict[UUID, tuple[str, ...]]:
    """Find bands of the cells of release `number` on which not every device has a figure."""
    found: dict[UUID, tuple[str, ...]] = {}
    made = Cell.objects.filter(first_release=number).values_list("pk", "bands", "worst_db")
    for pk, bands, stored in made.iterator():
        worst_db = np.frombuffer(bytes(stored), WORST_DTYPE).reshape(-1, len(bands))
        missing = np.isnan(worst_db).any(axis=0)
        if missing.any():
            found[pk] = tuple(band for band, gap in zip(bands, missing, strict=True) if gap)
    return found


def _read_pools() -> tuple[PoolVotes, ...]:
    votes: dict[int, set[Vote]] = defaultdict(set)
    for pool, *keys in PoolVote.objects.values_list(
        "pool_id", "contributor_key", "device_key", "test_key"
    ).iterator():
        votes[pool].add(Vote(*keys))
    rows = PublishedPool.objects.order_by("release", "name").values_list("pk", "name", "release", "figures")
    return tuple(
        PoolVotes(
            name,
            release,
            frozenset(votes[pk]) if pk in votes else None,
            figures.get("least", 0),
            figures.get("kind", COMMON_MODE),
        )
        for pk, name, release, figures in rows
    )


def _read_holders() -> dict[str, str]:
    rows = Device.objects.annotate(person=build_voter_key())
    return dict(rows.values_list("key", "person").iterator())
