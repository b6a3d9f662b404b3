"""Asks the disclosure rule about every design: what could vote now, and all that was ever published."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from measurements.disclosure.merged_designs import Published, State, next_cell_of_all, sharing_a_past
from measurements.disclosure.releases import Decision
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.votes import Candidate, Vote
from measurements.models import Design, PublishedVote, Result

# of a design that was merged into another: what was published of it ends
_ENDED = Decision("withhold", frozenset(), "unchanged")


@dataclass(frozen=True)
class _Told:
    """A state that was published of a design from a release on; open: it stands."""

    release: int
    design: int
    votes: State
    open: bool


def of_all_designs(number: int, limits: Thresholds) -> dict[int, Decision]:
    """What release `number` does with every design that has candidates now or was ever published."""
    candidates, told = _candidates(), _told()
    merged = dict(Design.objects.exclude(merged_into=None).values_list("pk", "merged_into"))
    tests: dict[int, set[str]] = defaultdict(set)
    for design, found in candidates.items():
        tests[design].update(candidate.test for candidate in found)
    for state in told:
        tests[state.design].update(vote.test for vote in state.votes)
    decisions = {state.design: _ENDED for state in told if state.open and state.design in merged}
    states: dict[int, list[_Told]] = defaultdict(list)
    for state in told:
        states[state.design].append(state)
    for group in sharing_a_past(tests, merged):
        past = sorted((state for design in group for state in states[design]), key=lambda each: each.release)
        for design in group:
            if design not in merged:
                decisions[design] = _decided(design, past, candidates[design], merged, limits)
                if decisions[design].action == "replace":  # the next of the group reckons with it
                    past.append(_Told(number, design, decisions[design].votes, open=False))
    return decisions


def _decided(
    design: int,
    past: list[_Told],
    candidates: list[Candidate],
    merged: dict[int, int],
    limits: Thresholds,
) -> Decision:
    published = [
        Published(
            state.votes,
            own=state.design == design,
            open=state.open and merged.get(state.design, state.design) == design,
        )
        for state in past
    ]
    return next_cell_of_all(published, candidates, limits)


def _candidates() -> dict[int, list[Candidate]]:
    """Every test that could vote now, by design."""
    found: dict[int, list[Candidate]] = defaultdict(list)
    rows = Result.objects.filter(current=True, counts_as_evidence=True, test__excluded_reason="")
    columns = (
        "test__device__design_id",
        "test__device__contributor__key",
        "test__device__key",
        "test__key",
        "test__measured_on",
        "test__recorded_at",
    )
    for design_id, *fields in rows.values_list(*columns).iterator():
        found[design_id].append(Candidate(*fields))
    return found


def _told() -> list[_Told]:
    """Every state ever published."""
    states: dict[tuple[str, int, int, bool], set[Vote]] = defaultdict(set)
    votes = PublishedVote.objects.order_by("cell__first_release").values_list(
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
        _Told(first, design, frozenset(votes), is_open)
        for (_, design, first, is_open), votes in states.items()
    ]
