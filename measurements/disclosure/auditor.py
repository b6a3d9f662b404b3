"""Audit everything that was published, in the order of publication, against the one rule of disclosure.

The auditor knows nothing of how a release was decided. It gets the sets of votes behind every aggregate
that any circle can see and passes them, or names the first one that breaks the rule. It reads each vote of
each set a bounded number of times, so its time grows with the number of votes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from measurements.disclosure.votes import Vote, group_persons


@dataclass(frozen=True)
class PublishedSet:
    """The votes behind one published aggregate.

    quantity: what the aggregate is about, such as a design on a band; sets of one quantity could be
    subtracted from each other. figure: of which figure it is an aggregate, such as the rejection on a band;
    sets of one figure could be added, whatever their quantities. what: where it is shown, for the finding.
    votes: behind it, in the private keys. judged: False for what counts as history only, such as an older
    release. composed: it must be made of published sets of its figure, and counts for nothing
    itself, such as a family of designs.
    """

    quantity: str
    what: str
    votes: frozenset[Vote]
    judged: bool = True
    figure: str = ""
    composed: bool = False


@dataclass(frozen=True)
class Finding:
    """The first published set that breaks the rule. joiners: how many persons in it were new."""

    what: str
    joiners: int


_Parts = dict[Vote, list[frozenset[Vote]]]  # published sets of one figure by each of their votes


@dataclass
class _History:
    """What was published of one quantity so far, by persons as `votes.group_persons` names them."""

    person: Mapping[str, str]
    known: set[str] = field(default_factory=set)
    seen: set[frozenset[Vote]] = field(default_factory=set)


def audit_publications(
    published: Iterable[PublishedSet], min_joiners: int, holders: Mapping[str, str] | None = None
) -> Finding | None:
    """Find the first set that is neither new enough nor made of earlier ones; None where all hold.

    published: in the order of publication. min_joiners: persons who must be in no earlier set of the
    quantity. holders: device -> person who has it now; that person is known wherever the device voted.
    """
    sets, owners = list(published), holders or {}
    histories = _prepare_histories(sets)
    parts: dict[str, _Parts] = defaultdict(lambda: defaultdict(list))
    for each in sets:
        of_figure = parts[each.figure]
        if each.composed:
            if each.judged and not _is_made_of_parts(each.votes, of_figure):
                return Finding(each.what, 0)
            continue
        history = histories[each.quantity]
        if each.votes in history.seen:
            continue
        present = {history.person[vote.contributor] for vote in each.votes}
        joiners = len(present - history.known)
        if each.judged and joiners < min_joiners and not _is_made_of_parts(each.votes, of_figure):
            return Finding(each.what, joiners)
        _remember(each.votes, present, history, owners, of_figure)
    return None


def _prepare_histories(sets: Iterable[PublishedSet]) -> dict[str, _History]:
    """Prepare an empty history of each quantity that knows which contributors are one person in it."""
    by_quantity: dict[str, dict[frozenset[Vote], None]] = defaultdict(dict)
    for each in sets:
        if not each.composed:
            by_quantity[each.quantity][each.votes] = None
    return {quantity: _History(group_persons(states)) for quantity, states in by_quantity.items()}


def _is_made_of_parts(votes: frozenset[Vote], parts: _Parts) -> bool:
    """Say whether `votes` is a published set, or a disjoint union of published sets, largest parts first."""
    left = set(votes)
    while left:
        vote = next(iter(left))
        fitting = [part for part in parts.get(vote, ()) if part <= left]
        if not fitting:
            return False
        left -= max(fitting, key=len)
    return True


def _remember(
    votes: frozenset[Vote], present: set[str], history: _History, owners: Mapping[str, str], parts: _Parts
) -> None:
    history.seen.add(votes)
    history.known |= present
    for vote in votes:
        holder = owners.get(vote.device)
        if holder is not None:
            history.known.add(history.person.get(holder, holder))
        parts[vote].append(votes)
