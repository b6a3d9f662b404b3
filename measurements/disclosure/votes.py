"""Which tests vote: one per device, its newest; a few devices per contributor, and no more.

Keys are the random keys of the private ledger. They are compared, never shown.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True)
class Vote:
    """One device's vote: what the ledger keeps of it. Two votes are equal when all three keys are."""

    contributor: str
    device: str
    test: str


@dataclass(frozen=True)
class Candidate:
    """A common_mode test of one design that could vote: valid, not withdrawn, not excluded.

    recorded_at settles which of two tests of one day is the newer. bands: on which the test is valid.
    """

    contributor: str
    device: str
    test: str
    measured_on: date
    recorded_at: datetime
    bands: frozenset[str] = frozenset()

    @property
    def vote(self) -> Vote:
        return Vote(self.contributor, self.device, self.test)


def choose_votes(candidates: Iterable[Candidate], cap: int = 3) -> frozenset[Vote]:
    """Return the votes of one design: each device's newest test, at most `cap` devices of one contributor.

    Of a contributor with more devices than that, the ones with the newest tests vote; tests of equal
    age go by the devices' keys, so that two runs choose alike. Which devices those are must not
    depend on their figures, or a contributor could choose a verdict.
    """
    newest: dict[str, Candidate] = {}
    for candidate in candidates:
        known = newest.get(candidate.device)
        if known is None or _compute_age_key(candidate) > _compute_age_key(known):
            newest[candidate.device] = candidate
    by_contributor: dict[str, list[Candidate]] = {}
    for candidate in sorted(newest.values(), key=lambda c: c.device):
        by_contributor.setdefault(candidate.contributor, []).append(candidate)
    return frozenset(
        candidate.vote
        for own in by_contributor.values()
        # sorted() is stable: equal ages stay in the order of the device keys.
        for candidate in sorted(own, key=lambda c: (c.measured_on, c.recorded_at), reverse=True)[:cap]
    )


def _compute_age_key(candidate: Candidate) -> tuple[date, datetime, str]:
    return candidate.measured_on, candidate.recorded_at, candidate.test


def list_contributors(votes: Collection[Vote]) -> frozenset[str]:
    """Return the distinct contributors behind votes: what every threshold counts."""
    return frozenset(vote.contributor for vote in votes)


# Who counts as one person when two published states are compared.
#
# A device may pass from one contributor to another (a guest becomes a member, a balun is sold). Its
# figure then leaves with one name and joins with another although nothing changed, and such a pair must
# not count as two people behind whom a third can be hidden. So contributors who ever held the
# same device of a design count as one person here. This can only make a change wait longer.


def list_known_persons(
    states: Iterable[Iterable[Vote]], person: Mapping[str, str], holders: Mapping[str, str]
) -> set[str]:
    """List the persons of published states, and whoever holds one of their devices now.

    person: as `group_persons` gives it. holders: device -> its owner's person key now. A guest whom nobody
    had confirmed is in the ledger without a name; whoever claimed the device since was published before.
    """
    known: set[str] = set()
    for state in states:
        for vote in state:
            holder = holders.get(vote.device, vote.contributor)
            known |= {person.get(vote.contributor, vote.contributor), person.get(holder, holder)}
    return known


def group_persons(states: Iterable[Iterable[Vote]]) -> dict[str, str]:
    """Return each contributor's person, over all states (and present votes) of one design.

    Joined by their devices and their tests, transitively: a test that moved to another person's device was
    one person's vote before, so its new owner joins nothing by it. The person is named by the smallest key of
    the group.
    """
    leader: dict[str, str] = {}
    holder: dict[tuple[str, str], str] = {}

    def find(who: str) -> str:
        leader.setdefault(who, who)
        while leader[who] != who:
            leader[who] = leader[leader[who]]
            who = leader[who]
        return who

    for state in states:
        for vote in state:
            for held in (("device", vote.device), ("test", vote.test)):
                one, other = find(vote.contributor), find(holder.setdefault(held, vote.contributor))
                leader[max(one, other)] = min(one, other)
    return {who: find(who) for who in list(leader)}
