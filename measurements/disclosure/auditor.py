"""Audit everything that was published, in the order of publication, against the one rule of disclosure.

The auditor knows nothing of how a release was decided. It gets the sets of votes behind every aggregate
that any circle can see and passes them, or names the first one that breaks the rule. It reads each vote a
bounded number of times, so its time grows with the number of votes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from measurements.disclosure.votes import Vote, group_persons


@dataclass(frozen=True)
class PublishedSet:
    """The votes behind one published aggregate.

    quantity: what the aggregate is about, such as a design; sets of one quantity could be subtracted from
    each other. what: where it is shown, for the finding. votes: who stands behind it, in the private keys.
    judged: False for what counts as history only, such as what an older rule published.
    """

    quantity: str
    what: str
    votes: frozenset[Vote]
    judged: bool = True


@dataclass(frozen=True)
class Finding:
    """The first published set that breaks the rule. joiners: how many persons in it were new."""

    what: str
    joiners: int


@dataclass
class _History:
    """What was published of one quantity so far."""

    persons: set[str] = field(default_factory=set)
    sets: set[frozenset[Vote]] = field(default_factory=set)
    newest_with: dict[Vote, list[frozenset[Vote]]] = field(default_factory=lambda: defaultdict(list))


def audit_publications(published: Iterable[PublishedSet], min_joiners: int) -> Finding | None:
    """Find the first set that is neither new enough nor made of earlier ones; None where all hold.

    published: in the order of publication. min_joiners: persons who must be in no earlier set of the
    quantity.
    """
    sets = list(published)
    by_quantity: dict[str, list[frozenset[Vote]]] = defaultdict(list)
    for each in sets:
        by_quantity[each.quantity].append(each.votes)
    persons = {quantity: group_persons(states) for quantity, states in by_quantity.items()}
    histories: dict[str, _History] = defaultdict(_History)
    for each in sets:
        history, person = histories[each.quantity], persons[each.quantity]
        present = {person[vote.contributor] for vote in each.votes}
        joiners = len(present - history.persons)
        if each.judged and joiners < min_joiners and not _is_made_of_earlier_sets(each.votes, history):
            return Finding(each.what, joiners)
        _remember(each.votes, present, history)
    return None


def _is_made_of_earlier_sets(votes: frozenset[Vote], history: _History) -> bool:
    """Say whether `votes` is an earlier set, or a disjoint union of earlier sets, largest parts first."""
    left = set(votes)
    while left:
        vote = next(iter(left))
        parts = [part for part in history.newest_with.get(vote, ()) if part <= left]
        if not parts:
            return False
        left -= max(parts, key=len)
    return True


def _remember(votes: frozenset[Vote], present: set[str], history: _History) -> None:
    history.persons |= present
    if votes in history.sets:
        return
    history.sets.add(votes)
    for vote in votes:
        history.newest_with[vote].append(votes)
