"""Who counts as one person when two published states are compared.

A device may pass from one contributor to another (a guest becomes a member, a balun is sold). Its
figure then leaves with one name and joins with another although nothing changed, and such a pair must
not count as two people behind whom a third can be hidden. So contributors who ever held the
same device of a design count as one person here. This can only make a change wait longer.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from measurements.disclosure.votes import Vote


def persons(states: Iterable[Iterable[Vote]]) -> dict[str, str]:
    """Each contributor's person, over all states (and present votes) of one design.

    Joined by their devices, transitively; the person is named by the smallest key of the group.
    """
    leader: dict[str, str] = {}
    holder: dict[str, str] = {}

    def find(who: str) -> str:
        leader.setdefault(who, who)
        while leader[who] != who:
            leader[who] = leader[leader[who]]
            who = leader[who]
        return who

    for state in states:
        for vote in state:
            one, other = find(vote.contributor), find(holder.setdefault(vote.device, vote.contributor))
            leader[max(one, other)] = min(one, other)
    return {who: find(who) for who in list(leader)}


def concerned(old: Iterable[Vote], new: Iterable[Vote], person: Mapping[str, str]) -> frozenset[str]:
    """The persons whose figures differ between two states: joined, left, tested again or withdrew.

    A figure is a test: a test that is in both states cancels out in any subtraction.
    """
    before, after = ({vote.test: vote for vote in state} for state in (old, new))
    return frozenset(
        person[vote.contributor]
        for one, other in ((before, after), (after, before))
        for test, vote in one.items()
        if test not in other
    )


def moved(old: Iterable[Vote], new: Iterable[Vote], person: Mapping[str, str]) -> frozenset[str]:
    """The persons who joined or left between two states; testing again is neither."""
    before, after = (frozenset(person[vote.contributor] for vote in state) for state in (old, new))
    return before ^ after
