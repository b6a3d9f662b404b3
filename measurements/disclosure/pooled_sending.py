"""Choose which votes a group sends to its pool, so that nothing of a design is published from two sets.

A group publishes a design alone, or through the pool, or both from one set. So of a design that it published
alone it sends exactly the set that is public now, where everybody in it takes part and every vote still
stands; otherwise nothing. Of any other design it sends all votes of those who take part.

At home, votes that were ever sent count as published: their persons join nothing that the group publishes
alone later (`build_home_past`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from measurements.disclosure.votes import Candidate, Vote, choose_votes

Votes = frozenset[Vote]

# means everybody else in a pooled set, so that no set of the group's own votes is ever equal to it
_REST = Vote("rest of the pool", "rest of the pool", "rest of the pool")

# kind -> the largest U (95 %) of a vote, in the unit of its figure (trade.md, section 7)
LARGEST_U = {"common_mode": 2.0, "insertion_loss": 0.25, "load_match": 0.15}
U_CLASSES = ("quarter", "half", "whole")  # of the largest U that votes


def choose_sending(
    alone: Iterable[Votes],
    published: Votes | None,
    candidates: Collection[Candidate],
    taking_part: Collection[str],
    cap: int = 3,
) -> Votes:
    """Choose the votes of one design that leave for the pool; empty where none may.

    alone: every set that the group ever published of the design. published: the one that is public now.
    candidates: tests that could vote now. taking_part: persons who chose the pool. cap: devices of a person.
    """
    standing = [each for each in candidates if each.contributor in taking_part]
    if published is not None:
        return published if published <= {each.vote for each in standing} else frozenset()
    return frozenset() if any(alone) else choose_votes(standing, cap)


def build_home_past(sent: Iterable[Vote]) -> Votes:
    """Build the state that means the pool, among those which the group published of a design itself."""
    return frozenset([*sent, _REST])


def is_of_pool(state: Votes) -> bool:
    """Say whether `build_home_past` made this state."""
    return _REST in state


def class_uncertainty(uncertainty: float, kind: str) -> str:
    """Class U (95 %, in the unit of the kind's figure) as up to a quarter, a half or the whole of the limit.

    A continuous U would be the fingerprint of an instrument. Raises ValueError where U is too large to vote,
    negative or no number; KeyError for a kind that is no evidence.
    """
    share = uncertainty / LARGEST_U[kind]
    if not 0 <= share <= 1:
        raise ValueError("A figure with this uncertainty does not vote.")
    return U_CLASSES[0] if share <= 0.25 else U_CLASSES[1] if share <= 0.5 else U_CLASSES[2]
