"""Asks the disclosure rule about designs: what could vote now, and all that was ever published of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models.functions import Coalesce

from measurements.disclosure.merged_designs import PublishedState, VoteState, decide_merged_cell
from measurements.disclosure.release_rule import CellDecision
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.votes import Candidate, Vote
from measurements.models import PublishedVote
from measurements.services.releases import decision_marks

# of a design that was merged into another: what was published of it ends
_ENDED = CellDecision("withhold", frozenset(), "unchanged")


@dataclass(frozen=True)
class _PublishedState:
    """A state that was published of a design from a release on; open: it stands."""

    release: int
    design: int
    votes: VoteState
    open: bool


def decide_groups(
    groups: Sequence[Sequence[int]], merged: dict[int, int], number: int, limits: Thresholds
) -> dict[int, CellDecision]:
    """What release `number` does with the designs of these groups.

    groups: designs that share a past together, as `decision_marks.plan` gives them.
    """
    designs = [design for group in groups for design in group]
    candidates, told = _list_candidates(designs), _list_published_states(designs)
    decisions = {state.design: _ENDED for state in told if state.open and state.design in merged}
    states: dict[int, list[_PublishedState]] = defaultdict(list)
    for state in told:
        states[state.design].append(state)
    for group in groups:
        past = sorted((state for design in group for state in states[design]), key=lambda each: each.release)
        for design in group:
            if design not in merged:
                decisions[design] = _decide_design(design, past, candidates[design], merged, limits)
                if decisions[design].action == "replace":  # the next of the group reckons with it
                    past.append(_PublishedState(number, design, decisions[design].votes, open=False))
    return decisions


def _decide_design(
    design: int,
    past: list[_PublishedState],
    candidates: list[Candidate],
    merged: dict[int, int],
    limits: Thresholds,
) -> CellDecision:
    published = [
        PublishedState(
            state.votes,
            own=state.design == design,
            open=state.open and merged.get(state.design, state.design) == design,
        )
        for state in past
    ]
    return decide_merged_cell(published, candidates, limits)


def _list_candidates(designs: list[int]) -> dict[int, list[Candidate]]:
    """Every test of these designs that could vote now, by design; by the survivor where one is merged."""
    found: dict[int, list[Candidate]] = defaultdict(list)
    rows = decision_marks.query_voting_results().filter(test__device__design__in=designs)
    columns = (
        # a device may be filed under a design while it is merged
        Coalesce("test__device__design__merged_into", "test__device__design"),
        "test__device__contributor__key",
        "test__device__key",
        "test__key",
        "test__measured_on",
        "test__recorded_at",
    )
    for design_id, *fields in rows.values_list(*columns).iterator():
        found[design_id].append(Candidate(*fields))
    return found


def _list_published_states(designs: list[int]) -> list[_PublishedState]:
    """Every state ever published of these designs."""
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
    return [
        _PublishedState(first, design, frozenset(votes), is_open)
        for (_, design, first, is_open), votes in states.items()
    ]
