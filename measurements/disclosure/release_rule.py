"""Decide when a design's published evidence may change: three persons join together, or nothing moves.

A *state* is the set of votes behind a design's cell. At each release every design is decided by itself from
three things: the state now published, if any; every state ever published of it, oldest first; and the tests
that could vote now. Let *wanted* be the votes chosen among those (`votes.choose_votes`).

1. *wanted* is published only if it has `min_contributors` persons or more, and either it is an earlier state,
   vote for vote, or at least `min_joiners` of its persons are in no earlier state.
2. Otherwise the published state stays as it is, also where a test behind it was withdrawn: it was published
   already, and taking one person's figure out of it would show that figure by subtraction. It ends with its
   next renewal, and with its life (`LIFE_DAYS`) for everybody. A state that turns out to have fewer persons
   than `min_contributors`, because two of them are one, ends at once.
3. A test that a steward excluded for cause has no vote in anything new. Where rule 1 forbids the state
   without it, the cell is withheld until it does not.

Why this holds: take any sum or difference of published states. The newest state in it has at least
`min_joiners` persons whose votes are in no older one, so nothing in the sum can cancel them. It touches that
many persons or more (own derivation; tests/disclosure/test_simulation.py checks it by exact linear algebra).

A person is a contributor (`votes.group_persons` says when two of them count as one). Toggling a test, a
second device, a re-test, a move or a merge makes nobody a joiner: they come along when three others join.

What this does not do. Of three who join together, two who conspire know two of three figures and so learn
much of the third's. Raising `min_joiners` to 4 leaves two unknown. The public circle sees the same states,
only from `public_min_contributors` on and coarsened.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.votes import (
    Candidate,
    Vote,
    choose_votes,
    group_persons,
    list_contributors,
    list_known_persons,
)

LIFE_DAYS = 3 * 365  # how long a published state lives at most (house default)

CellAction = Literal["keep", "replace", "withhold", "empty"]
DecisionReason = Literal[
    "first_publication",
    "published_again",
    "enough_joiners",
    "unchanged",
    "too_few_contributors",
    "too_few_joiners",
]

# What an owner reads about a design; nothing here says anything about anybody else's device.
DECISION_REASONS: dict[DecisionReason, str] = {
    "first_publication": "Enough people have tested this design: its evidence is published now.",
    "published_again": "The evidence is published again as it was.",
    "enough_joiners": "Enough people joined: the published evidence is brought up to date.",
    "unchanged": "The published evidence is up to date.",
    "too_few_contributors": "Too few people have tested this design for anything to be published.",
    "too_few_joiners": "Too few people joined since it was last published; changes wait.",
}


@dataclass(frozen=True)
class CellDecision:
    """What the next release does with one design.

    action: `keep` the cell as it is, `replace` it (or publish it for the first time, or again) with
    `votes`, `withhold` what was published, or leave the design `empty`, which never was.
    votes: the state published after this release; empty for `withhold` and `empty`.
    reason: why, one of `DECISION_REASONS`.
    """

    action: CellAction
    votes: frozenset[Vote]
    reason: DecisionReason


def decide_cell(
    published: frozenset[Vote] | None,
    past: Sequence[frozenset[Vote]],
    candidates: Collection[Candidate],
    thresholds: Thresholds,
    *,
    excluded: Collection[str] = (),
    expired: bool = False,
    holders: Mapping[str, str] | None = None,
) -> CellDecision:
    """Decide one design for the next release, by the rule above.

    published: the state published now, None where none is (never yet, or withheld).
    past: every state ever published of this design, oldest first, `published` among them.
    candidates: every test that could vote now.
    excluded: tests that a steward excluded for cause. expired: whether the life of `published` is over.
    holders: device -> person who has it now, see `votes.list_known_persons`.
    Raises ValueError when `published` is not the last of `past`: the ledger is then not to be trusted.
    """
    if published is not None and (not past or past[-1] != published):
        raise ValueError("The published state must be the last one of the ledger.")
    wanted = choose_votes(candidates, thresholds.votes_per_contributor)
    stays = published is not None and not expired and _may_stay(published, excluded, thresholds)
    if stays and published is not None and _list_tests(wanted) == _list_tests(published):
        return CellDecision("keep", published, "unchanged")
    hindrance = find_hindrance(wanted, past, thresholds, holders or {})
    if hindrance is None:
        return CellDecision("replace", wanted, _find_occasion(wanted, past))
    if stays and published is not None:
        return CellDecision("keep", published, hindrance)
    return CellDecision("withhold" if past else "empty", frozenset(), hindrance)


def _may_stay(published: frozenset[Vote], excluded: Collection[str], thresholds: Thresholds) -> bool:
    """Say whether a published state may stay: nobody in it was excluded, and it has persons enough.

    It may have fewer than when it was published: a guest turned out to be a member, or a threshold was
    raised.
    """
    enough = len(list_contributors(published)) >= thresholds.min_contributors
    return enough and not _list_tests(published) & frozenset(excluded)


def find_hindrance(
    wanted: frozenset[Vote],
    past: Sequence[frozenset[Vote]],
    thresholds: Thresholds,
    holders: Mapping[str, str],
) -> DecisionReason | None:
    """Find what forbids publishing `wanted` after `past`; None where rule 1 allows it."""
    if len(list_contributors(wanted)) < thresholds.min_contributors:
        return "too_few_contributors"
    if any(_list_tests(wanted) == _list_tests(state) for state in past):
        return None
    if len(list_joiners(wanted, past, holders)) < thresholds.min_joiners:
        return "too_few_joiners"
    return None


def list_joiners(
    wanted: frozenset[Vote], past: Sequence[frozenset[Vote]], holders: Mapping[str, str]
) -> frozenset[str]:
    """List the persons of `wanted` who are in no state of `past`, named by `votes.group_persons`."""
    person = group_persons([*past, wanted])
    known = list_known_persons(past, person, holders)
    return frozenset(person[vote.contributor] for vote in wanted) - known


def _find_occasion(wanted: frozenset[Vote], past: Sequence[frozenset[Vote]]) -> DecisionReason:
    if not past:
        return "first_publication"
    again = any(_list_tests(wanted) == _list_tests(state) for state in past)
    return "published_again" if again else "enough_joiners"


def _list_tests(votes: frozenset[Vote]) -> frozenset[str]:
    return frozenset(vote.test for vote in votes)
