"""Asks the disclosure rule about designs: what could vote now, and all that was ever published of them.

Designs that share a past are decided together: merged ones, and ones that ever published one and the same
test because its device moved.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from django.db.models import F, Max, Min, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone

from measurements.disclosure.merged_designs import (
    PublishedState,
    VoteState,
    decide_merged_cell,
    group_by_shared_past,
)
from measurements.disclosure.release_rule import LIFE_DAYS, CellDecision
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.votes import Candidate, Vote
from measurements.models import Cell, Design, PublishedVote, Release, Result, Test, check_standards
from measurements.services.devices.contributors import build_voter_key

BATCH = 500

# of a design that was merged into another: what was published of it ends
_ENDED = CellDecision("withhold", frozenset(), "unchanged")


@dataclass(frozen=True)
class _PublishedState:
    """A state that was published of a design from a release on; open: it is published now.

    expired: it has been published for longer than a state lives.
    """

    release: int
    design: int
    votes: VoteState
    open: bool
    expired: bool = False


def get_merged_designs() -> dict[int, int]:
    """Read which designs were merged: design -> the one that it was merged into."""
    return dict(Design.objects.exclude(merged_into=None).values_list("pk", "merged_into"))


def list_design_groups(merged: dict[int, int]) -> list[list[int]]:
    """List every design with a vote, of now or of before, in groups that share a past."""
    designs = set(
        _query_voting_results().values_list("test__device__design", flat=True).distinct().order_by()
    )
    designs |= set(Cell.objects.values_list("design", flat=True).distinct())
    together = group_by_shared_past(_list_shared_tests(_list_moved_devices()), merged)
    alone = designs - {design for group in together for design in group}
    return [*together, *([design] for design in sorted(alone))]


def _query_voting_results() -> QuerySet[Result]:
    """Return results whose tests could vote now: none of a check standard, none that waits for one."""
    return Result.objects.filter(
        current=True,
        counts_as_evidence=True,
        test__excluded_reason="",
        test__shares_bytes=False,
        test__device__is_check_standard=False,
        test__device__design__isnull=False,
    ).exclude(check_standards.build_waiting_condition("test__"))


def _list_moved_devices() -> list[str]:
    """Return devices with a vote on a design that their test is not of now, or with a test that voted on
    several.
    """
    now_of = Test.objects.filter(key=OuterRef("test_key")).values("device__design_id")[:1]
    found = PublishedVote.objects.annotate(now_of=Subquery(now_of)).exclude(now_of=F("cell__design_id"))
    spread = PublishedVote.objects.values("test_key").order_by()
    spread = spread.annotate(low=Min("cell__design_id"), high=Max("cell__design_id")).exclude(low=F("high"))
    keys = list(spread.values_list("test_key", flat=True))
    moved = set(found.exclude(now_of=None).values_list("device_key", flat=True))
    for start in range(0, len(keys), BATCH):
        votes = PublishedVote.objects.filter(test_key__in=keys[start : start + BATCH])
        moved.update(votes.values_list("device_key", flat=True))
    return sorted(moved)


def _list_shared_tests(devices: Sequence[str]) -> dict[int, set[str]]:
    """Return designs that ever shared a test of these devices, each with the tests that it shares."""
    designs: dict[str, set[int]] = defaultdict(set)
    for start in range(0, len(devices), BATCH):
        votes = PublishedVote.objects.filter(device_key__in=devices[start : start + BATCH])
        now_of = Test.objects.filter(key=OuterRef("test_key")).values("device__design_id")[:1]
        rows = votes.annotate(now_of=Subquery(now_of)).values_list("test_key", "cell__design_id", "now_of")
        for test, *own in rows.distinct():
            designs[test].update(design for design in own if design is not None)
    found: dict[int, set[str]] = defaultdict(set)
    for test, own in designs.items():
        for design in own if len(own) > 1 else ():
            found[design].add(test)
    return found


def decide_groups(
    groups: Sequence[Sequence[int]], merged: dict[int, int], number: int, limits: Thresholds
) -> dict[int, CellDecision]:
    """Decide what release `number` does with the designs of these groups.

    groups: designs that share a past together, as `list_design_groups` gives them.
    """
    designs = [design for group in groups for design in group]
    candidates, told = _list_candidates(designs), _list_published_states(designs)
    excluded = _list_excluded_tests(told)
    decisions = {state.design: _ENDED for state in told if state.open and state.design in merged}
    states: dict[int, list[_PublishedState]] = defaultdict(list)
    for state in told:
        states[state.design].append(state)
    for group in groups:
        past = sorted((state for design in group for state in states[design]), key=lambda each: each.release)
        for design in group:
            if design not in merged:
                decisions[design] = _decide_design(design, past, candidates[design], merged, limits, excluded)
                if decisions[design].action == "replace":  # the next of the group reckons with it
                    past.append(_PublishedState(number, design, decisions[design].votes, open=False))
    return decisions


def _decide_design(
    design: int,
    past: list[_PublishedState],
    candidates: list[Candidate],
    merged: dict[int, int],
    limits: Thresholds,
    excluded: frozenset[str],
) -> CellDecision:
    published = [
        PublishedState(
            state.votes,
            own=state.design == design,
            open=state.open and merged.get(state.design, state.design) == design,
            expired=state.expired,
        )
        for state in past
    ]
    return decide_merged_cell(published, candidates, limits, excluded=excluded)


def _list_candidates(designs: list[int]) -> dict[int, list[Candidate]]:
    """Return every test of these designs that could vote now, by design; by the survivor where one is
    merged.
    """
    found: dict[int, list[Candidate]] = defaultdict(list)
    rows = _query_voting_results().filter(test__device__design__in=designs)
    rows = rows.annotate(person=build_voter_key("test__device__"))
    columns = (
        # a device may be filed under a design while it is merged
        Coalesce("test__device__design__merged_into", "test__device__design"),
        "person",
        "test__device__key",
        "test__key",
        "test__measured_on",
        "test__recorded_at",
    )
    for design_id, *fields in rows.values_list(*columns).iterator():
        found[design_id].append(Candidate(*fields))
    return found


def _list_published_states(designs: list[int]) -> list[_PublishedState]:
    """Return every state ever published of these designs."""
    states: dict[tuple[str, int, int, bool], set[Vote]] = defaultdict(set)
    published = PublishedVote.objects.filter(cell__design__in=designs)
    votes = published.order_by("cell__first_release").values_list(
        "cell_id",
        "cell__design_id",
        "cell__first_release",
        "cell__last_release",
        "contributor_key",
        "device_key",
        "test_key",
    )
    for cell, design, first, last, *keys in votes.iterator():
        states[str(cell), design, first, last is None].add(Vote(*keys))
    oldest = timezone.now() - timedelta(days=LIFE_DAYS)
    old = set(Release.objects.filter(made_at__lt=oldest).values_list("number", flat=True))
    return [
        _PublishedState(first, design, frozenset(votes), is_open, expired=first in old)
        for (_, design, first, is_open), votes in states.items()
    ]


def _list_excluded_tests(told: Sequence[_PublishedState]) -> frozenset[str]:
    """List the published tests that a steward has excluded for cause."""
    keys = sorted({vote.test for state in told if state.open for vote in state.votes})
    found: set[str] = set()
    for start in range(0, len(keys), BATCH):
        tests = Test.objects.filter(key__in=keys[start : start + BATCH]).exclude(excluded_reason="")
        found.update(tests.values_list("key", flat=True))
    return frozenset(found)
