"""Audit the private ledger before a release is public: everything published so far, in order, by one rule.

The auditor is given a set of votes for each aggregate that any circle can read: each band of each design and
kind, questions about several bands, families (and the heat map, which is made of them), what is learned over
all designs, and the repeatability of measurements. Counts are counts of these sets.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from measurements.disclosure.auditor import Finding, PublishedSet, audit_publications
from measurements.disclosure.pooled_sending import build_home_past
from measurements.disclosure.votes import Vote
from measurements.errors import BenchnightError
from measurements.services.releases.published_ledger import CellVotes, PublishedLedger, read_ledger
from measurements.verdict.judged_kinds import COMMON_MODE


@dataclass(frozen=True)
class FamilySet:
    """Designs that were pooled on a band. what: where it is shown. designs: whose open sets it pools.

    kind: of the tests in them.
    """

    what: str
    band: str
    designs: tuple[int, ...]
    kind: str = COMMON_MODE


def check_ledger(
    number: int,
    groups: Iterable[Sequence[int]],
    min_joiners: int,
    *,
    ledger: PublishedLedger | None = None,
    families: Iterable[FamilySet] = (),
) -> None:
    """Raise BenchnightError `release.audit` when a set that release `number` publishes breaks the rule.

    groups: designs that share a past, as `design_decisions.list_design_groups` gives them. families: pooled
    by this release. Call inside the transaction that makes the release: an error takes the release back.
    """
    found = audit_ledger(number, groups, min_joiners, ledger=ledger, families=families)
    if found is not None:
        raise BenchnightError(
            "release.audit",
            f"This release is not made public: {found.what} would rest on {found.joiners} new people, and it "
            f"takes {min_joiners}. Nothing was changed. Report this; it is a defect.",
            kind="conflict",
        )


def audit_ledger(
    number: int,
    groups: Iterable[Sequence[int]],
    min_joiners: int,
    *,
    ledger: PublishedLedger | None = None,
    families: Iterable[FamilySet] = (),
) -> Finding | None:
    """Audit the sets of votes that release `number` publishes against all earlier ones; None where all hold.

    One pass over the ledger. Earlier releases were audited when they were made: designs that have been merged
    since had pasts of their own then, and an older rule may have made them.
    """
    kept = ledger or read_ledger(number)
    gap = next((cell for cell in kept.cells if cell.first == number and cell.gaps), None)
    if gap is not None:
        return Finding(f"design {gap.design} on {gap.gaps[0]} in release {number}, without all its votes,", 0)
    past_of = {design: f"past {group[0]}" for group in groups for design in group}
    sets = [
        *_list_sent_sets(kept, past_of),
        *_list_cell_sets(kept, number, past_of),
        *_list_pool_sets(kept, number),
        *_list_family_sets(kept, number, families),
    ]
    return audit_publications(sets, min_joiners, kept.holders)


def _list_cell_sets(ledger: PublishedLedger, number: int, past_of: dict[int, str]) -> Iterator[PublishedSet]:
    """Yield the set behind each band of each cell, and the one behind its bands together."""
    for cell in ledger.cells:
        past = f"{past_of.get(cell.design, f'past {cell.design}')} {cell.kind}"
        judged = cell.first == number
        for band in cell.bands:
            what = f"design {cell.design} ({cell.kind}) on {band} in release {cell.first}"
            yield PublishedSet(f"{past} {band}", what, cell.votes, judged, figure=f"{cell.kind} {band}")
        if len(cell.bands) > 1:
            what = f"design {cell.design} ({cell.kind}) on its bands together in release {cell.first}"
            yield PublishedSet(f"{past} together", what, cell.votes, judged, figure=f"{cell.kind} together")


def _list_sent_sets(ledger: PublishedLedger, past_of: dict[int, str]) -> Iterator[PublishedSet]:
    """Yield what was sent to a pool of groups as history of every quantity of its design and kind."""
    for (design, kind), votes in ledger.sent.items():
        past = past_of.get(design, f"past {design}")
        same = [
            cell
            for cell in ledger.cells
            if cell.kind == kind and past_of.get(cell.design, f"past {cell.design}") == past
        ]
        for scope in sorted({band for cell in same for band in (*cell.bands, "together")}):
            what = f"design {design} ({kind}), sent to the pool,"
            figure = f"{kind} {scope}"
            yield PublishedSet(f"{past} {figure}", what, build_home_past(votes), judged=False, figure=figure)


def _list_pool_sets(ledger: PublishedLedger, number: int) -> Iterator[PublishedSet]:
    for name in sorted({pool.name for pool in ledger.pools}):
        makings = [pool for pool in ledger.pools if pool.name == name]
        for pool, votes in zip(makings, ledger.list_pool_states(name), strict=True):
            what = f"the pool {name} in release {pool.release}"
            yield PublishedSet(name, what, votes, pool.release == number, figure=name)


def _list_family_sets(
    ledger: PublishedLedger, number: int, families: Iterable[FamilySet]
) -> Iterator[PublishedSet]:
    """Yield the votes behind each family; designs that share a vote make no disjoint union."""
    standing: dict[tuple[str, int, str], CellVotes] = {
        (cell.kind, cell.design, band): cell
        for cell in ledger.cells
        if cell.is_open_at(number)
        for band in cell.bands
    }
    for family in families:
        sets = [standing[family.kind, design, family.band].votes for design in family.designs]
        votes: frozenset[Vote] = frozenset().union(*sets)
        figure = f"{family.kind} {family.band}"
        yield PublishedSet(family.what, family.what, votes, figure=figure, composed=True)
