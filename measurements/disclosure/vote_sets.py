"""The sets of votes of one design: one for the core bands together, one for each band beyond them.

If every band had whoever happens to be valid there, two bands would differ by one person, and a question
about both together would show the figure of that person. So a design has one set for the core bands (80 to
10 m): the persons with valid votes on all of them. A question about several core bands rests on that one set.
A band beyond the core joins the core set where all its votes are valid there and the rule allows it; else it
has a set of its own under the same rule. What was published of a band, by whichever set, is that band's past.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from measurements.disclosure.merged_designs import PublishedState, decide_merged_cell
from measurements.disclosure.release_rule import CellDecision, find_hindrance
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.votes import Candidate, Vote
from measurements.rf.bands import Band

CORE = ""  # the scope of a design's main set; that of any other set is its band
CORE_LOW_HZ, CORE_HIGH_HZ = 3.0e6, 30.0e6  # 80 to 10 m (house default)
CORE_SHARE = 0.9  # of the kind's votes that are valid on a band of the core (house default)

_COVERED = CellDecision("withhold", frozenset(), "unchanged")  # of a set whose band the core set took over


@dataclass(frozen=True)
class SetDecision:
    """What a release does with one set of a design. bands: published with it; empty where nothing is."""

    decision: CellDecision
    bands: frozenset[str]


@dataclass(frozen=True)
class SetRule:
    """What decides over all sets of a release. core: bands that one set covers together.

    excluded, holders: as in `release_rule.decide_cell`.
    """

    core: frozenset[str]
    thresholds: Thresholds
    excluded: Collection[str] = ()
    holders: Mapping[str, str] | None = None


def choose_core_bands(plan: Iterable[Band], valid: Mapping[str, int], votes: int) -> frozenset[str]:
    """Choose the bands that one set covers: 80 to 10 m, as far as nine in ten of the group's votes go.

    valid: votes that are valid on each band. votes: how many there are; without any, all of 80 to 10 m.
    """
    core = [band.name for band in plan if band.start_hz >= CORE_LOW_HZ and band.stop_hz <= CORE_HIGH_HZ]
    return frozenset(name for name in core if valid.get(name, 0) >= CORE_SHARE * votes)


def decide_sets(
    past: Sequence[PublishedState], candidates: Collection[Candidate], rule: SetRule
) -> dict[str, SetDecision]:
    """Decide every set of one design for the next release, by scope.

    past: every state of the shared past, of any scope, oldest first.
    """
    core = _decide_set(CORE, rule.core, past, candidates, rule)
    decided = {CORE: _add_further_bands(core, past, candidates, rule)}
    covered = decided[CORE].bands
    standing = {state.scope for state in past if state.own and state.open} - {CORE}
    there = {band for candidate in candidates for band in candidate.bands} - rule.core
    for band in sorted((there | standing) - covered):
        found = _decide_set(band, frozenset({band}), past, candidates, rule)
        if found.decision.action in ("keep", "replace") or band in standing:
            decided[band] = found
    for band in sorted(standing & covered):
        decided[band] = SetDecision(_COVERED, frozenset())
    return decided


def _decide_set(
    scope: str,
    bands: frozenset[str],
    past: Sequence[PublishedState],
    candidates: Collection[Candidate],
    rule: SetRule,
) -> SetDecision:
    """Decide one set. Its votes are valid on all of `bands`; its past is whatever covered any of them."""
    valid = [each for each in candidates if bands and bands <= each.bands]
    known = [
        replace(state, own=state.own and state.scope == scope, open=state.open and state.scope == scope)
        for state in past
        if state.scope == scope or state.bands & bands
    ]
    decision = decide_merged_cell(known, valid, rule.thresholds, excluded=rule.excluded, holders=rule.holders)
    if decision.action == "keep":
        return SetDecision(decision, next(state.bands for state in known if state.own and state.open))
    if decision.action != "replace":
        return SetDecision(decision, frozenset())
    if decision.reason == "published_again":
        bands = _find_bands_published_before(decision.votes, known, candidates)
        if not bands:
            return SetDecision(CellDecision("withhold", frozenset(), "too_few_joiners"), frozenset())
    return SetDecision(decision, bands)


def _find_bands_published_before(
    votes: frozenset[Vote], known: Sequence[PublishedState], candidates: Collection[Candidate]
) -> frozenset[str]:
    """Find the bands on which exactly these votes were published before and are all valid still."""
    tests = {vote.test for vote in votes}
    before = frozenset(
        band for state in known if {vote.test for vote in state.votes} == tests for band in state.bands
    )
    return before & _find_common_bands(votes, candidates)


def _find_common_bands(votes: frozenset[Vote], candidates: Collection[Candidate]) -> frozenset[str]:
    tests = {vote.test for vote in votes}
    valid = [each.bands for each in candidates if each.test in tests]
    return frozenset.intersection(*valid) if valid and len(valid) == len(tests) else frozenset()


def _add_further_bands(
    core: SetDecision, past: Sequence[PublishedState], candidates: Collection[Candidate], rule: SetRule
) -> SetDecision:
    """Let a newly published core set cover the bands beyond it on which all its votes are valid."""
    if core.decision.action != "replace":
        return core
    votes = core.decision.votes
    more = {
        band
        for band in _find_common_bands(votes, candidates) - core.bands
        if _may_cover(band, votes, past, rule)
    }
    return SetDecision(core.decision, core.bands | more)


def _may_cover(band: str, votes: frozenset[Vote], past: Sequence[PublishedState], rule: SetRule) -> bool:
    known = [state.votes for state in past if band in state.bands]
    return find_hindrance(votes, known, rule.thresholds, rule.holders or {}) is None
