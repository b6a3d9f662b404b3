"""Audit everything that a pool and its groups published of designs, in the order of publication.

The auditor knows nothing of how a release was decided. It gets the sets that groups published alone, which
each group's own auditor passed, and the pooled ones, and names the first pooled set that breaks the rule. It
reads each vote of each set a bounded number of times.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from measurements.disclosure.auditor import Finding
from measurements.disclosure.votes import Vote, group_persons

_GROUPS, _SHARE = 3, 1 / 3

_Weights = tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class PooledSet:
    """The votes behind one published set of a design; keys begin with their group and a colon.

    quantity: what it is about, such as a design and a kind. group: who published it alone; empty for a pooled
    set. weights: (group, how much it counts) of a pooled set. judged: False for history, such as an older
    pooled release.
    """

    quantity: str
    what: str
    votes: frozenset[Vote]
    group: str = ""
    weights: _Weights = ()
    judged: bool = True


@dataclass
class _History:
    person: Mapping[str, str]
    known: set[str] = field(default_factory=set)
    alone: dict[str, set[frozenset[Vote]]] = field(default_factory=lambda: defaultdict(set))
    pooled: dict[frozenset[Vote], _Weights] = field(default_factory=dict)
    last: PooledSet | None = None


def audit_pool(published: Iterable[PooledSet], min_joiners: int) -> Finding | None:
    """Find the first pooled set that breaks the rule; None where all hold. published: in their order."""
    sets = list(published)
    by_quantity: dict[str, list[frozenset[Vote]]] = defaultdict(list)
    for each in sets:
        by_quantity[each.quantity].append(each.votes)
    histories = {name: _History(group_persons(states)) for name, states in by_quantity.items()}
    for each in sets:
        history = histories[each.quantity]
        if each.judged and not each.group:
            found = _find_fault(each, history, min_joiners)
            if found is not None:
                return found
        _remember(each, history)
    return None


def _find_fault(each: PooledSet, history: _History, min_joiners: int) -> Finding | None:
    parts = _split(each.votes)
    total = sum(weight for _, weight in each.weights)
    if len(parts) < _GROUPS or {group for group, _ in each.weights} != set(parts):
        return Finding(f"{each.what}, of {len(parts)} groups,", 0)
    heavy = next((group for group, weight in each.weights if weight > total * _SHARE * (1 + 1e-6)), None)
    if heavy is not None:
        return Finding(f"{each.what}, of which more than a third comes from group {heavy},", 0)
    if each.votes in history.pooled:
        same = history.pooled[each.votes] == each.weights
        return None if same else Finding(f"{each.what}, the same votes counted in another way,", 0)
    for group, own in parts.items():
        if history.alone[group] and own not in history.alone[group]:
            return Finding(f"{each.what}, with another set of group {group} than it published alone,", 0)
    if all(own in history.alone[group] for group, own in parts.items()):
        return None
    joiners = {
        group: len({history.person[vote.contributor] for vote in own} - history.known)
        for group, own in parts.items()
    }
    joining = [count for count in joiners.values() if count]
    many = [count for count in joining if count >= min_joiners]
    if sum(joining) >= min_joiners and (len(joining) >= _GROUPS or len(many) == len(joining) >= 2):
        return None
    if len(joining) == len(many) == 1 and _are_others_as_before(each, joiners, history.last):
        return None
    return Finding(each.what, sum(joining))


def _are_others_as_before(each: PooledSet, joiners: Mapping[str, int], before: PooledSet | None) -> bool:
    """Say whether nothing changed of all groups but the one that joins, since the pooled set before."""
    if before is None:
        return False
    own = next(group for group, count in joiners.items() if count)
    old, new = _split(before.votes), _split(each.votes)
    weights = [{group: weight for group, weight in state.weights if group != own} for state in (before, each)]
    for parts in (old, new):
        parts.pop(own, None)
    return old == new and weights[0] == weights[1]


def _remember(each: PooledSet, history: _History) -> None:
    history.known |= {history.person[vote.contributor] for vote in each.votes}
    if each.group:
        history.alone[each.group].add(each.votes)
    else:
        history.pooled[each.votes] = each.weights
        history.last = each


def _split(votes: Iterable[Vote]) -> dict[str, frozenset[Vote]]:
    found: dict[str, set[Vote]] = defaultdict(set)
    for vote in votes:
        found[vote.contributor.partition(":")[0]].add(vote)
    return {group: frozenset(own) for group, own in found.items()}
