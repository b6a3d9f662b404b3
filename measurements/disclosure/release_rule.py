"""When a design's published evidence may change: the rule that two releases never give one person away.

A *state* is the set of votes behind a design's cell. At each release every design is decided by itself
from three things: the state now published, if any; every state ever published of it, oldest first; and
the tests that could vote now. Let *wanted* be the votes chosen among those (`votes.choose_votes`).

1. What is gone is gone. If a published vote is no longer among the candidates (its test, device or
   account was withdrawn, a steward excluded it, its device moved to another design), the published
   state may not stay. Otherwise it stays until rule 2 lets it change: the cell is a frozen row, so
   neither a newer engine nor a repeated test alters its figures meanwhile.
2. *wanted* is published only if all of these hold:
   a. it has `min_contributors` distinct contributors or more;
   b. it is the very state published last, figure for figure (nothing changes), or at least
      `min_changes` persons joined or left since the state published last. Testing again is
      neither: such tests come along when the cell changes for other reasons;
   c. against *every* state ever published, the persons whose figures differ (joined, left, tested
      again) are none, or at least `min_changes`. The last state is not enough: whoever kept the
      release with {1,2,3} subtracts it from {1,2,3,6} whatever was published in between;
   d. no linear combination of all states ever published and *wanted* consists of one person's
      figures (`combinations`), because three releases can do what no two can.
3. Where the published state may not stay and *wanted* may not be published, the cell is withheld:
   nothing is there until enough people changed. An empty place tells that somebody withdrew, not what
   his figures were.

A figure is a test, a person is a contributor (`people` says when two of them count as one). With
`min_changes` 1 the group has chosen to do without b to d, except that somebody must have joined or left.

The public circle sees the same states, only from `public_min_contributors` on and coarsened, so all
this holds for it too: from 4 to 5 contributors it goes from nothing to an aggregate of five.

What this does not do. Rows of a release carry their month: who knows that one person alone tested a
design in a month knows which row it is. One who leaves as one joins are two persons; a member who knows
both can tell the new row from the old one. A design's bands share its states, so of two
who joined, one alone may cover the highest band; who of them, the evidence does not say. Raising
`min_changes` makes each of these harder; releasing seldom does too.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Literal

from measurements.disclosure.exposure import adds_exposure
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.votes import (
    Candidate,
    Vote,
    choose_votes,
    group_persons,
    list_changed_persons,
    list_contributors,
    list_joined_or_left,
)

CellAction = Literal["keep", "replace", "withhold", "empty"]
DecisionReason = Literal[
    "first_publication",
    "published_again",
    "enough_changes",
    "unchanged",
    "too_few_contributors",
    "too_few_changes",
    "near_an_earlier_state",
    "combination_of_states",
]

# What an owner is told of a design; nothing here says anything about anybody else's device.
DECISION_REASONS: dict[DecisionReason, str] = {
    "first_publication": "Enough contributors have tested this design: its evidence is published now.",
    "published_again": "The evidence is published again as it stood.",
    "enough_changes": "Enough contributors joined or left: the published evidence is brought up to date.",
    "unchanged": "The published evidence is up to date.",
    "too_few_contributors": "Too few contributors have tested this design for anything to be published.",
    "too_few_changes": "Too few contributors joined or left since it was last published; changes wait.",
    "near_an_earlier_state": "It would differ from an earlier release by too few people; changes wait.",
    "combination_of_states": "Together with earlier releases it would give one person away; changes wait.",
}


@dataclass(frozen=True)
class CellDecision:
    """What the next release does with one design.

    action: `keep` the cell as it is, `replace` it (or publish it for the first time, or again) with
    `votes`, `withhold` what was published, or leave the design `empty`, which never was.
    votes: the state published after this release; empty for `withhold` and `empty`.
    reason: why, one of `REASONS`.
    """

    action: CellAction
    votes: frozenset[Vote]
    reason: DecisionReason


def decide_cell(
    published: frozenset[Vote] | None,
    past: Sequence[frozenset[Vote]],
    candidates: Collection[Candidate],
    thresholds: Thresholds,
) -> CellDecision:
    """Decide one design for the next release, by the rule above.

    published: the state published now, None where none is (never yet, or withheld).
    past: every state ever published of this design, oldest first, `published` among them.
    candidates: every test that could vote now; whatever is not among them is gone.
    Raises ValueError when `published` is not the last of `past`: the ledger is then not to be trusted.
    """
    if published is not None and (not past or past[-1] != published):
        raise ValueError("The published state must be the last one of the ledger.")
    wanted = choose_votes(candidates, thresholds.votes_per_contributor)
    hindrance = _find_hindrance(wanted, past, thresholds)
    if published is not None and _may_stay(published, candidates, thresholds):
        if _collect_tests(wanted) == _collect_tests(published):
            return CellDecision("keep", published, "unchanged")
        if hindrance is not None:
            return CellDecision("keep", published, hindrance)
    if hindrance is None:
        return CellDecision("replace", wanted, _find_occasion(wanted, past))
    return CellDecision("withhold" if past else "empty", frozenset(), hindrance)


def _may_stay(published: frozenset[Vote], candidates: Collection[Candidate], thresholds: Thresholds) -> bool:
    """Rule 1. The threshold is asked again because a steward may have raised it."""
    standing = {(candidate.device, candidate.test) for candidate in candidates}
    return len(list_contributors(published)) >= thresholds.min_contributors and all(
        (vote.device, vote.test) in standing for vote in published
    )


def _find_hindrance(
    wanted: frozenset[Vote], past: Sequence[frozenset[Vote]], thresholds: Thresholds
) -> DecisionReason | None:
    """Rule 2: the first of a to d that forbids publishing `wanted`, None where it may be published."""
    if len(list_contributors(wanted)) < thresholds.min_contributors:
        return "too_few_contributors"
    if not past or _collect_tests(wanted) == _collect_tests(past[-1]):
        return None
    person = group_persons([*past, wanted])
    if len(list_joined_or_left(past[-1], wanted, person)) < thresholds.min_changes:
        return "too_few_changes"
    if any(0 < len(list_changed_persons(state, wanted, person)) < thresholds.min_changes for state in past):
        return "near_an_earlier_state"
    if thresholds.min_changes > 1 and adds_exposure(past, wanted, person):
        return "combination_of_states"
    return None


def _find_occasion(wanted: frozenset[Vote], past: Sequence[frozenset[Vote]]) -> DecisionReason:
    if not past:
        return "first_publication"
    return "published_again" if _collect_tests(wanted) == _collect_tests(past[-1]) else "enough_changes"


def _collect_tests(votes: frozenset[Vote]) -> frozenset[str]:
    return frozenset(vote.test for vote in votes)
