"""The rule of releases where designs are not alone: merged ones, and ones that a tested device moved between.

Two designs that were found to be one had cells of their own. Whoever kept the old releases can subtract
either from what is published of both together. The same holds where members move their devices. So designs
that were merged, or that ever shared a test, have one past: every state published of any of them. A merged
design publishes nothing new until enough persons join who are new to all of them; until then the survivor's
own cell stays, or that of the design that was merged into it is published again under the survivor, where all
its tests are still there.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from measurements.disclosure.release_rule import CellDecision, decide_cell
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.votes import Candidate, Vote

VoteState = frozenset[Vote]


@dataclass(frozen=True)
class PublishedState:
    """A state that was published of a design or of one that it shares its past with.

    own: of this design. open: it is published now, and this release decides what follows it: true of the
    design's own and of those merged into it, never of what another design has. expired: its life is over.
    scope, bands: which of the design's sets it was and the bands that it covered, see `vote_sets`.
    """

    votes: VoteState
    own: bool
    open: bool
    expired: bool = False
    scope: str = ""
    bands: frozenset[str] = frozenset()


def decide_merged_cell(
    past: Sequence[PublishedState],
    candidates: Collection[Candidate],
    thresholds: Thresholds,
    *,
    excluded: Collection[str] = (),
    holders: Mapping[str, str] | None = None,
) -> CellDecision:
    """Decide a design for the next release; `keep` speaks of its own open cell only.

    past: every state of the shared past, oldest first. candidates: all that could vote on this design now.
    excluded, holders: as in `decide_cell`.
    """
    standing = [state for state in past if state.open]
    if not standing:
        return decide_cell(None, [state.votes for state in past], candidates, thresholds, holders=holders)
    base = next((state for state in standing if state.own), standing[-1])
    # the rule compares with the state that is open, which it wants last
    ordered = [state.votes for state in past if state is not base] + [base.votes]
    decision = decide_cell(
        base.votes,
        ordered,
        candidates,
        thresholds,
        excluded=excluded,
        expired=base.expired,
        holders=holders,
    )
    if decision.action == "keep" and not base.own:
        present = {(each.device, each.test) for each in candidates}
        if all((vote.device, vote.test) in present for vote in base.votes):
            return CellDecision("replace", base.votes, "published_again")
        return CellDecision("withhold", frozenset(), decision.reason)
    return decision


def group_by_shared_past(tests: Mapping[int, Iterable[str]], merged: Mapping[int, int]) -> list[list[int]]:
    """Return the designs in groups that share their past, transitively; each group and all groups in order.

    tests: by design, the tests that voted or could vote. merged: design -> the one it was merged into.
    """
    leader = {design: design for design in (*tests, *merged, *merged.values())}

    def find(design: int) -> int:
        while leader[design] != design:
            leader[design] = leader[leader[design]]
            design = leader[design]
        return design

    def join(one: int, other: int) -> None:
        low, high = sorted((find(one), find(other)))
        leader[high] = low

    for design, survivor in merged.items():
        join(design, survivor)
    first_with: dict[str, int] = {}
    for design, own in tests.items():
        for test in own:
            join(design, first_with.setdefault(test, design))
    groups: dict[int, list[int]] = {}
    for design in sorted(leader):
        groups.setdefault(find(design), []).append(design)
    return [groups[key] for key in sorted(groups)]
