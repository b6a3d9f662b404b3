"""Makes aggregates over many designs at a release, again only when enough persons joined their votes.

Each making has a set of votes under the one rule of disclosure, in the private ledger like any other. What
nobody joined stays as it was made, also where somebody behind it has left since.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from measurements.disclosure.release_rule import find_hindrance
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.viewers import Circle
from measurements.disclosure.votes import Vote
from measurements.models import PoolVote, PublishedPool
from measurements.services.releases import design_decisions, evidence_rows
from measurements.services.releases.published_ledger import PublishedLedger
from measurements.verdict import repeatability
from measurements.verdict.judged_kinds import COMMON_MODE, INSERTION_LOSS, LOAD_MATCH

REPEATABILITY = "repeatability"
# the usual spread of each kind; the first has kept its name from when it was the only one
USUAL_SPREADS = {
    COMMON_MODE: "usual_spread",
    INSERTION_LOSS: "usual_spread_loss",
    LOAD_MATCH: "usual_spread_match",
}
LEARNED: dict[Circle, str] = {"members": "learned_members", "public": "learned_public"}


@dataclass(frozen=True)
class _Repeat:
    """One test that could vote, with its worst rejection by band, dB."""

    vote: Vote
    settings: tuple[Any, ...]
    on: date
    worst_db: Mapping[str, float]


def make_pools(number: int, ledger: PublishedLedger, limits: Thresholds, core: frozenset[str]) -> None:
    """Make the pools of release `number` that enough persons joined. Inside the release's transaction.

    ledger: with the cells of this release, and the pools of earlier ones. core: bands of common-mode sets.
    """
    few, many = limits.min_contributors, limits.public_min_contributors
    # made of the cells that are open at the release and have so many persons
    of_cells = [(name, kind, few) for kind, name in USUAL_SPREADS.items()]
    of_cells += [(LEARNED["members"], COMMON_MODE, few), (LEARNED["public"], COMMON_MODE, many)]
    for name, kind, least in of_cells:
        voting = ledger.join_core_votes(number, least, kind)
        if voting and may_make(voting, name, ledger, limits):
            figures = {"least": least, "kind": kind}
            PublishedPool.objects.create(name=name, release=number, figures=figures)
    _make_repeatability(number, ledger, limits, core)


def may_make(votes: frozenset[Vote], name: str, ledger: PublishedLedger, limits: Thresholds) -> bool:
    """Say whether these votes may be published as a pool that differs from its earlier makings."""
    past = ledger.list_pool_states(name)
    same = any(votes == state for state in past)
    return not same and find_hindrance(votes, past, limits, ledger.holders) is None


def find_newest_release(name: str) -> int | None:
    """Find the release that a pool was last made at; None where it never was."""
    newest = PublishedPool.objects.filter(name=name).order_by("-release")
    return newest.values_list("release", flat=True).first()


def _make_repeatability(
    number: int, ledger: PublishedLedger, limits: Thresholds, core: frozenset[str]
) -> None:
    """Pool the repeats of all persons, on the core bands: one set of votes for all bands, as of a design."""
    near = _list_repeats(core)
    votes = frozenset(each.vote for each in near)
    if not votes or not may_make(votes, REPEATABILITY, ledger, limits):
        return
    groups = repeatability.group_repeats(
        ((each.vote.device, each.settings), each.on, each.worst_db) for each in near
    )
    figures = {}
    for band, columns in sorted(groups.items()):
        pooled = repeatability.pool_deviations(columns)
        if pooled is not None and pooled.enough:
            figures[band] = repeatability.round_up_deviation(pooled.sd)
    if figures:
        pool = PublishedPool.objects.create(name=REPEATABILITY, release=number, figures={"sd_db": figures})
        columns = ("pool_id", "contributor_key", "device_key", "test_key")
        rows = ((pool.pk, vote.contributor, vote.device, vote.test) for vote in sorted(votes, key=_get_test))
        evidence_rows.insert_rows(PoolVote, columns, rows)


def _get_test(vote: Vote) -> str:
    return vote.test


def _list_repeats(core: frozenset[str]) -> list[_Repeat]:
    """List tests that could vote and that repeat one of the same device, on all core bands."""
    by_device: dict[tuple[Any, ...], list[_Repeat]] = {}
    columns = ("test__settings__ratio", "published", "test__measured_on", "person", *_KEYS)
    for ratio, published, on, person, device, test in design_decisions.query_voting_tests(
        COMMON_MODE
    ).values_list(*columns):
        bands = (published or {}).get("bands", {})
        if not core or not core <= bands.keys():
            continue
        settings = (published["method"], ratio)
        worst_db = {band: float(bands[band][1]) for band in sorted(core)}
        repeat = _Repeat(Vote(person, device, test), settings, on, worst_db)
        by_device.setdefault((device, settings), []).append(repeat)
    return [
        each
        for same in by_device.values()
        for each in same
        if any(_is_near(each, other) for other in same if other is not each)
    ]


_KEYS = ("test__device__key", "test__key")


def _is_near(one: _Repeat, other: _Repeat) -> bool:
    return abs((one.on - other.on).days) <= repeatability.REPEAT_WITHIN_DAYS
