"""Decide when the pooled evidence of a design may change: evidence of many groups, held by one keeper.

A *state* is the set of votes behind a pooled row, and how much each group counts in it. The one rule of
`release_rule` holds over everything that anybody publishes of the design: pooled states, and the sets that
groups published alone. Two things are added, because each group's stewards know their own votes.

1. A state has votes of `LEAST_GROUPS` groups or more, and no group counts for more than a third of it.
2. A group that publishes a design alone takes part with exactly such a set, vote for vote, or not at all.
3. A new state is published only where one of these holds:
   a. those who join it come from three groups or more, or at least `min_joiners` come from each of two or
      more. Take away whatever one group knows, and two who join are left;
   b. `min_joiners` or more join from one group, and nothing of all other groups changes: the same votes,
      which count as much as before. That group's stewards then learn nothing new of the others;
   c. it is a disjoint union of sets that groups published alone;
   d. it is an earlier state, vote for vote. It then counts its groups as it did before.
   Whoever is in an earlier state, or in a set that a group published alone, does not join.
4. Where nothing may change, the published state stays, also where a vote behind it was withdrawn. It ends
   with its life, and where the keeper set one of its groups aside.

Keys of votes begin with their group (`name_in_pool`), so nobody is linked across groups: a person of two
groups may count twice, which is why a state takes three groups.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.votes import Vote, group_persons, list_contributors

LEAST_GROUPS = 3
LARGEST_SHARE = 1 / 3  # of what counts in a design, from one group

Votes = frozenset[Vote]
PooledReason = Literal[
    "published_again",
    "enough_joiners",
    "made_of_published_sets",
    "unchanged",
    "too_few_groups",
    "too_few_contributors",
    "too_few_joiners",
]


@dataclass(frozen=True)
class PooledState:
    """Votes that are published together. weights: group -> how many persons it counts as, above 0."""

    votes: Votes
    weights: Mapping[str, float] = field(hash=False)


@dataclass(frozen=True)
class PooledDecision:
    """What the next pooled release does with one design. state: published after it, None where nothing is."""

    action: Literal["keep", "replace", "withhold", "empty"]
    state: PooledState | None
    reason: PooledReason


@dataclass(frozen=True)
class PooledPast:
    """What was published of one design. states: pooled ones, oldest first. alone: the sets of groups.

    published: the state that is public now, None where none is; it is one of `states`.
    """

    states: Sequence[PooledState] = ()
    alone: Sequence[Votes] = ()
    published: PooledState | None = None


def name_in_pool(group: str, vote: Vote) -> Vote:
    """Name the keys of a group's vote so that no other group's can be equal to them."""
    return Vote(*(f"{group}:{key}" for key in (vote.contributor, vote.device, vote.test)))


def get_group(vote: Vote) -> str:
    """Get the group of a vote that `name_in_pool` named."""
    return vote.contributor.partition(":")[0]


def split_by_group(votes: Iterable[Vote]) -> dict[str, Votes]:
    """Split votes into those of each group."""
    found: dict[str, set[Vote]] = defaultdict(set)
    for vote in votes:
        found[get_group(vote)].add(vote)
    return {group: frozenset(own) for group, own in sorted(found.items())}


def count_persons(votes: Iterable[Vote]) -> dict[str, int]:
    """Count the persons of each group."""
    return {group: len(list_contributors(own)) for group, own in split_by_group(votes).items()}


def weigh_groups(persons: Mapping[str, int]) -> dict[str, float]:
    """Weigh each group: as many as its persons, but at most a third of what all groups count together.

    Groups above the cap c count c, where c is a third of the sum of min(persons, c). Raises ValueError under
    three groups with a person: no weights of two keep each at a third.
    """
    there = sorted((count for count in persons.values() if count > 0), reverse=True)
    if len(there) < LEAST_GROUPS:
        raise ValueError("It takes three groups before none counts for more than a third.")
    cap = float(there[0])
    for capped in (1, 2):
        # with `capped` groups at c and the rest whole, c = rest / (3 - capped)
        cap = min(cap, sum(there[capped:]) / (LEAST_GROUPS - capped))
    return {group: min(float(count), cap) for group, count in persons.items() if count > 0}


def decide_pooled(
    past: PooledPast,
    candidates: Votes,
    thresholds: Thresholds,
    *,
    aside: Collection[str] = (),
    expired: bool = False,
) -> PooledDecision:
    """Decide one design for the next pooled release, by the rule above.

    candidates: votes that count now. aside: groups that the keeper set aside; their votes do not count.
    expired: whether the life of the published state is over.
    Raises ValueError where the published state is none of the past's.
    """
    if past.published is not None and past.published not in past.states:
        raise ValueError("The published state must be one of the past.")
    wanted = _choose_parts(past, candidates, aside)
    stays = _may_stay(past.published, thresholds, aside) and not expired
    if stays and past.published is not None and past.published.votes == wanted:
        return PooledDecision("keep", past.published, "unchanged")
    hindrance: PooledReason = "too_few_joiners"
    for offered in _list_offers(past, wanted, candidates if stays else frozenset(), thresholds):
        state, reason = _try_state(past, offered, stays, thresholds)
        if state is not None:
            kept = stays and state == past.published
            return PooledDecision("keep" if kept else "replace", state, "unchanged" if kept else reason)
        hindrance = reason if offered == wanted else hindrance
    if stays:
        return PooledDecision("keep", past.published, hindrance)
    return PooledDecision("withhold" if past.states else "empty", None, hindrance)


def _choose_parts(past: PooledPast, candidates: Votes, aside: Collection[str]) -> Votes:
    """Choose the votes of each group; a group that publishes alone comes with a set of its own or not."""
    misfits = _list_misfits(past, candidates)
    return frozenset(
        vote for vote in candidates if get_group(vote) not in misfits and get_group(vote) not in aside
    )


def _list_misfits(past: PooledPast, votes: Votes) -> set[str]:
    """List the groups that published the design alone, but never with their votes among these."""
    alone: dict[str, set[Votes]] = defaultdict(set)
    for state in past.alone:
        for group, own in split_by_group(state).items():
            alone[group].add(own)
    parts = split_by_group(votes)
    return {group for group, own in parts.items() if group in alone and own not in alone[group]}


def _may_stay(state: PooledState | None, thresholds: Thresholds, aside: Collection[str]) -> bool:
    return (
        state is not None
        and not any(get_group(vote) in aside for vote in state.votes)
        and len(list_contributors(state.votes)) >= thresholds.min_contributors
    )


def _list_offers(past: PooledPast, wanted: Votes, standing: Votes, thresholds: Thresholds) -> list[Votes]:
    """List sets worth trying, widest first.

    All votes; one group's news with the others as before; all without groups of too few joiners; sets that
    groups published alone. standing: votes that were not withdrawn; nothing new holds any other.
    """
    offers = [wanted]
    joining = count_joiners(past, wanted)
    parts = split_by_group(wanted)
    if past.published is not None:
        before = split_by_group(past.published.votes)
        many = [group for group, count in joining.items() if count >= thresholds.min_joiners]
        for group in many[:1]:
            others = frozenset().union(*(own for name, own in before.items() if name != group))
            if others <= standing:
                offers.append(parts[group] | others)
    few = {group for group, count in joining.items() if 0 < count < thresholds.min_joiners}
    offers.append(frozenset(vote for vote in wanted if get_group(vote) not in few))
    alone = set(past.alone)
    offers.append(frozenset(vote for own in parts.values() if own in alone for vote in own))
    return list(dict.fromkeys(offers))


def count_joiners(past: PooledPast, votes: Votes) -> Counter[str]:
    """Count for each group the persons of `votes` who are in nothing published of the design."""
    states = [*(state.votes for state in past.states), *past.alone]
    person = group_persons([*states, votes])
    known = {person[vote.contributor] for state in states for vote in state}
    joining = {(get_group(vote), person[vote.contributor]) for vote in votes}
    return Counter(group for group, who in joining if who not in known)


def _try_state(
    past: PooledPast, votes: Votes, stays: bool, thresholds: Thresholds
) -> tuple[PooledState | None, PooledReason]:
    """Give the state that may be published of these votes, or the reason why none may."""
    persons = count_persons(votes)
    if len(persons) < LEAST_GROUPS:
        return None, "too_few_groups"
    if sum(persons.values()) < thresholds.min_contributors:
        return None, "too_few_contributors"
    again = next((state for state in past.states if state.votes == votes), None)
    if again is not None:
        return again, "published_again"
    if _list_misfits(past, votes):
        return None, "too_few_joiners"
    joining = count_joiners(past, votes)
    if are_enough_joiners(joining, thresholds.min_joiners):
        return PooledState(votes, weigh_groups(persons)), "enough_joiners"
    alone = set(past.alone)
    if all(own in alone for own in split_by_group(votes).values()):
        return PooledState(votes, weigh_groups(persons)), "made_of_published_sets"
    weights = _weigh_one_joining_group(past.published if stays else None, votes, joining, thresholds)
    return (PooledState(votes, weights), "enough_joiners") if weights else (None, "too_few_joiners")


def are_enough_joiners(joining: Mapping[str, int], min_joiners: int) -> bool:
    """Say whether those who join come from three groups, or so many from each of two groups or more."""
    counts = [count for count in joining.values() if count > 0]
    if sum(counts) < min_joiners:
        return False
    return len(counts) >= LEAST_GROUPS or (len(counts) >= 2 and min(counts) >= min_joiners)


def _weigh_one_joining_group(
    published: PooledState | None, votes: Votes, joining: Mapping[str, int], thresholds: Thresholds
) -> dict[str, float] | None:
    """Weigh a state that one group's persons join, the others as before; None where the rule forbids it."""
    groups = [group for group, count in joining.items() if count > 0]
    if published is None or len(groups) != 1 or joining[groups[0]] < thresholds.min_joiners:
        return None
    before, now = split_by_group(published.votes), split_by_group(votes)
    own = groups[0]
    if {name: part for name, part in before.items() if name != own} != {
        name: part for name, part in now.items() if name != own
    }:
        return None
    weights = {name: weight for name, weight in published.weights.items() if name != own}
    cap = sum(weights.values()) / (LEAST_GROUPS - 1)  # a third of what all count then
    weights[own] = min(float(len(list_contributors(now[own]))), cap)
    largest = LARGEST_SHARE * sum(weights.values())
    return weights if max(weights.values()) <= largest * (1 + 1e-9) else None
