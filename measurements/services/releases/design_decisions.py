"""Asks the disclosure rule about designs: what could vote now, and all that was ever published of them.

Designs that share a past are decided together: merged ones, and ones that ever published one and the same
test because its device moved.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.db.models import F, Max, Min, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone

from measurements.disclosure import published_figures, vote_sets
from measurements.disclosure.merged_designs import PublishedState, VoteState, group_by_shared_past
from measurements.disclosure.pooled_sending import build_home_past
from measurements.disclosure.release_rule import LIFE_DAYS, CellDecision
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.vote_sets import SetDecision, SetRule
from measurements.disclosure.votes import Candidate, Vote
from measurements.models import (
    Cell,
    Design,
    Device,
    PublishedVote,
    Release,
    Result,
    Test,
    check_standards,
    group_facts,
)
from measurements.services.devices.contributors import build_voter_key
from measurements.services.reference.band_plan import get_band_plan
from measurements.services.releases import published_ledger

BATCH = 500

# of a design that was merged into another: what was published of it ends
_ENDED = SetDecision(CellDecision("withhold", frozenset(), "unchanged"), frozenset())

SetKey = tuple[int, str]  # a design and the scope of one of its sets, see `vote_sets`


@dataclass(frozen=True)
class _PublishedState:
    """A state that was published of a design from a release on; open: it is published now.

    expired: it has been published for longer than a state lives. scope, bands: see `vote_sets`.
    """

    release: int
    design: int
    scope: str
    bands: frozenset[str]
    votes: VoteState
    open: bool
    expired: bool = False


def get_merged_designs() -> dict[int, int]:
    """Read which designs were merged: design -> the one that it was merged into."""
    return dict(Design.objects.exclude(merged_into=None).values_list("pk", "merged_into"))


def list_design_groups(merged: dict[int, int]) -> list[list[int]]:
    """List every design with a vote, of now or of before, in groups that share a past."""
    designs = set(query_voting_results().values_list("test__device__design", flat=True).distinct().order_by())
    designs |= set(Cell.objects.values_list("design", flat=True).distinct())
    together = group_by_shared_past(_list_shared_tests(_list_moved_devices()), merged)
    alone = designs - {design for group in together for design in group}
    return [*together, *([design] for design in sorted(alone))]


def query_voting_results(*kinds: str) -> QuerySet[Result]:
    """Return results whose tests could vote now: none private, of a check standard or waiting for one.

    kinds: of the tests; all that are evidence by default.
    """
    return Result.objects.filter(
        current=True,
        counts_as_evidence=True,
        test__kind__in=kinds or published_figures.KIND_RULES,
        test__excluded_reason="",
        test__shares_bytes=False,
        test__is_private=False,
        test__device__is_check_standard=False,
        test__device__design__isnull=False,
    ).exclude(check_standards.build_waiting_condition("test__"))


def query_voting_tests(kind: str) -> QuerySet[Result]:
    """Return the same of one kind with the person of each test as `person`."""
    return query_voting_results(kind).annotate(person=build_voter_key("test__device__"))


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


def get_core_bands(kind: str) -> frozenset[str]:
    """Get the bands that one set of a design covers at the next release (`vote_sets.choose_core_bands`).

    kind: whose votes are looked at, since a loss is known well enough on other bands than a rejection.
    """
    plan = get_band_plan(group_facts.get_region(), timezone.localdate())
    voting = query_voting_results(kind)
    kept = voting.exclude(published=None)  # what an older engine left without is no sample of less
    votes, valid = 0, Counter[str]()
    for bands in kept.values_list("published__bands", flat=True).iterator():
        votes += 1
        valid.update(list(bands))
    return vote_sets.choose_core_bands(plan, valid, votes)


def decide_groups(
    groups: Sequence[Sequence[int]],
    merged: dict[int, int],
    number: int,
    limits: Thresholds,
    core: frozenset[str],
    kind: str = "common_mode",
) -> dict[SetKey, SetDecision]:
    """Decide what release `number` does with each set of one kind of the designs of these groups.

    groups: designs that share a past together, as `list_design_groups` gives them. core: see
    `get_core_bands`. Each kind has sets and a past of its own: tests of two kinds are never one vote.
    """
    designs = [design for group in groups for design in group]
    candidates, told = _list_candidates(designs, kind), _list_published_states(designs, kind)
    rule = SetRule(core, limits, _list_excluded_tests(told), list_holders(told))
    decisions = {
        (state.design, state.scope): _ENDED for state in told if state.open and state.design in merged
    }
    states: dict[int, list[_PublishedState]] = defaultdict(list)
    for state in told:
        states[state.design].append(state)
    for group in groups:
        past = sorted((state for design in group for state in states[design]), key=lambda each: each.release)
        for design in group:
            if design in merged or not (past or candidates[design]):  # nothing of this kind, then or now
                continue
            for scope, found in _decide_design(design, past, candidates[design], merged, rule).items():
                decisions[design, scope] = found
                if found.decision.action == "replace":  # the next of the group reckons with it
                    made = (number, design, scope, found.bands, found.decision.votes)
                    past.append(_PublishedState(*made, open=False))
    return decisions


def _decide_design(
    design: int,
    past: list[_PublishedState],
    candidates: list[Candidate],
    merged: dict[int, int],
    rule: SetRule,
) -> dict[str, SetDecision]:
    published = [
        PublishedState(
            state.votes,
            own=state.design == design,
            open=state.open and merged.get(state.design, state.design) == design,
            expired=state.expired,
            scope=state.scope,
            bands=state.bands,
        )
        for state in past
    ]
    return vote_sets.decide_sets(published, candidates, rule)


def _list_candidates(designs: list[int], kind: str) -> dict[int, list[Candidate]]:
    """Return every test of one kind of these designs that could vote now, by design; by the survivor where
    one is merged. Loss and match at another ratio than the survivor's are left out.
    """
    found: dict[int, list[Candidate]] = defaultdict(list)
    rows = query_voting_tests(kind).filter(test__device__design__in=designs)
    ratios = dict(Design.objects.values_list("pk", "ratio"))  # a survivor may be of another group
    columns = (
        # a device may be filed under a design while it is merged
        Coalesce("test__device__design__merged_into", "test__device__design"),
        "pk",
        "published",
        "person",
        "test__device__key",
        "test__key",
        "test__measured_on",
        "test__recorded_at",
    )
    listed = list(rows.values_list(*columns))
    made_again = recompute_published(
        [row[1] for row in listed if not published_figures.is_current_form(row[2])]
    )
    for design_id, pk, kept, *fields in listed:
        published = made_again.get(pk, kept)
        if published.get("ratio", ratios[design_id]) == ratios[design_id]:
            found[design_id].append(Candidate(*fields, bands=frozenset(published["bands"])))
    return found


def recompute_published(results: list[int]) -> dict[int, dict[str, Any]]:
    """Give what these results publish, by row number: of an older form, or from before anything was kept."""
    figures = Result.objects.filter(pk__in=results).values_list("pk", "figures") if results else ()
    return {pk: published_figures.extract_published_figures(each) for pk, each in figures}


def _list_published_states(designs: list[int], kind: str) -> list[_PublishedState]:
    """Return every state of one kind ever published of these designs, and what was sent of it to a pool."""
    own = Cell.objects.filter(design__in=designs, kind=kind).defer("worst_db", "curves")
    cells = {cell.pk: cell for cell in own}
    states: dict[UUID, set[Vote]] = defaultdict(set)
    votes = PublishedVote.objects.filter(cell__design__in=designs, cell__kind=kind)
    for cell, *keys in votes.values_list("cell_id", "contributor_key", "device_key", "test_key").iterator():
        states[cell].add(Vote(*keys))
    oldest = timezone.now() - timedelta(days=LIFE_DAYS)
    old = set(Release.objects.filter(made_at__lt=oldest).values_list("number", flat=True))
    found = [
        _PublishedState(
            cell.first_release,
            cell.design_id,
            cell.band,
            frozenset(cell.bands),
            frozenset(states[pk]),
            cell.last_release is None,
            expired=cell.first_release in old,
        )
        for pk, cell in cells.items()
        if pk in states
    ]
    plan = get_band_plan(group_facts.get_region(), timezone.localdate())
    every_band = frozenset(band.name for band in plan)
    # it counts as published first, on every band: who was sent joins nothing that is published alone
    found += [
        _PublishedState(0, design, vote_sets.CORE, every_band, build_home_past(votes), open=False)
        for (design, sent_kind), votes in published_ledger.read_sent_votes(designs).items()
        if sent_kind == kind
    ]
    return sorted(found, key=lambda each: (each.release, each.design, each.scope))


def list_holders(told: Sequence[_PublishedState]) -> dict[str, str]:
    """List who holds the devices of published votes now: device -> person."""
    devices = sorted({vote.device for state in told for vote in state.votes})
    found: dict[str, str] = {}
    for start in range(0, len(devices), BATCH):
        rows = Device.objects.filter(key__in=devices[start : start + BATCH])
        found.update(rows.annotate(person=build_voter_key()).values_list("key", "person"))
    return found


def _list_excluded_tests(told: Sequence[_PublishedState]) -> frozenset[str]:
    """List the published tests that a steward has excluded for cause."""
    keys = sorted({vote.test for state in told if state.open for vote in state.votes})
    found: set[str] = set()
    for start in range(0, len(keys), BATCH):
        tests = Test.objects.filter(key__in=keys[start : start + BATCH]).exclude(excluded_reason="")
        found.update(tests.values_list("key", flat=True))
    return frozenset(found)
