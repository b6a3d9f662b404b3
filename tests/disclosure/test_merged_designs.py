"""Merged designs, and devices that move between designs, never give one person away, whatever was kept.

The checks know nothing of the rule's code: they look at what every release published of all the designs, as a
member who kept all of them would.
"""

from __future__ import annotations

import itertools
import random
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta

import pytest

from measurements.disclosure.merged_designs import PublishedState, decide_merged_cell, group_by_shared_past
from measurements.disclosure.release_rule import decide_cell
from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS
from measurements.disclosure.votes import Candidate, Vote
from tests.disclosure.test_simulation import given_away

DAY = date(2026, 1, 1)
NOON = datetime(2026, 1, 1, 12, tzinfo=UTC)


def candidate(who: str, test: str | None = None) -> Candidate:
    return Candidate(who, f"d-{who}", test or f"t-{who}", DAY, NOON)


def state(*people: str) -> frozenset[Vote]:
    return frozenset(candidate(who).vote for who in people)


def candidates(*people: str) -> list[Candidate]:
    return [candidate(who) for who in people]


ABC_AND_DEF = [
    PublishedState(state(*"abc"), own=False, open=True),
    PublishedState(state(*"def"), own=True, open=True),
]


def test_two_published_designs_keep_the_survivors_cell_until_three_are_new_to_both():
    kept = decide_merged_cell(ABC_AND_DEF, candidates(*"abcdef"), DEFAULT_THRESHOLDS)
    assert (kept.action, kept.votes) == ("keep", state(*"def"))
    two = decide_merged_cell(ABC_AND_DEF, candidates(*"abcdefgh"), DEFAULT_THRESHOLDS)
    assert two.action == "keep"
    three = decide_merged_cell(ABC_AND_DEF, candidates(*"abcdefghi"), DEFAULT_THRESHOLDS)
    assert (three.action, three.votes) == ("replace", state(*"abcdefghi"))
    alone = decide_cell(state(*"def"), [state(*"def")], candidates(*"abcdefg"), DEFAULT_THRESHOLDS)
    assert alone.action == "replace"  # what a rule that knew one past only would have published


def test_what_was_published_of_the_merged_design_alone_is_published_again_under_the_survivor():
    past = [PublishedState(state(*"abc"), own=False, open=True)]
    decision = decide_merged_cell(past, candidates(*"abcg"), DEFAULT_THRESHOLDS)
    assert (decision.action, decision.votes, decision.reason) == (
        "replace",
        state(*"abc"),
        "published_again",
    )
    gone = decide_merged_cell(past, candidates(*"abg"), DEFAULT_THRESHOLDS)
    assert gone.action == "withhold"  # c's test is deleted, so the same state cannot be made
    assert decide_merged_cell(past, candidates(*"abcghi"), DEFAULT_THRESHOLDS).votes == state(*"abcghi")


def test_a_design_that_devices_moved_to_reckons_with_the_one_they_left():
    """a, b and c moved their tested devices to the design where g had the only one."""
    past = [PublishedState(state(*"abc"), own=False, open=False)]
    assert decide_merged_cell(past, candidates(*"abcgh"), DEFAULT_THRESHOLDS).action == "withhold"
    assert decide_merged_cell(past, candidates(*"abcghi"), DEFAULT_THRESHOLDS).action == "replace"


def test_designs_share_a_past_by_merging_and_by_tests():
    tests = {1: ["t1", "t2"], 2: ["t3"], 3: ["t2", "t4"], 4: ["t5"], 5: ["t4"], 6: []}
    assert group_by_shared_past(tests, {}) == [[1, 3, 5], [2], [4], [6]]
    assert group_by_shared_past(tests, {4: 2, 7: 6}) == [[1, 3, 5], [2, 4], [6, 7]]


@dataclass
class Told:
    """A state that a release published."""

    design: int
    votes: frozenset[Vote]
    open: bool = True


@dataclass
class Catalogue:
    """Three designs, people with devices of them, and every state that releases published."""

    rng: random.Random
    standing: list[int] = field(default_factory=lambda: [1, 2, 3])
    merged: dict[int, int] = field(default_factory=dict)
    design_of: dict[str, int] = field(default_factory=dict)  # device -> design
    tests: list[Candidate] = field(default_factory=list)
    told: list[Told] = field(default_factory=list)
    serial: itertools.count = field(default_factory=lambda: itertools.count(1))

    def join(self) -> None:
        n = next(self.serial)
        self.measure(f"p{n}", f"d{n}", self.rng.choice(self.standing))

    def build(self) -> None:
        if self.tests:
            who = self.rng.choice(self.tests).contributor
            self.measure(who, f"d{next(self.serial)}", self.rng.choice(self.standing))

    def measure(self, who: str, device: str, design: int) -> None:
        n = next(self.serial)
        self.design_of.setdefault(device, design)
        day, moment = DAY + timedelta(days=n // 4), NOON + timedelta(minutes=n)
        self.tests.append(Candidate(who, device, f"t{n}", day, moment))

    def retest(self) -> None:
        if self.tests:
            test = self.rng.choice(self.tests)
            self.measure(test.contributor, test.device, 0)

    def leave(self) -> None:
        if self.tests:
            gone = self.rng.choice(self.tests).contributor
            self.tests = [test for test in self.tests if test.contributor != gone]

    def move(self) -> None:
        if self.tests:
            self.design_of[self.rng.choice(self.tests).device] = self.rng.choice(self.standing)

    def merge(self) -> None:
        if len(self.standing) == 1:
            return
        gone, survivor = self.rng.sample(self.standing, 2)
        self.standing.remove(gone)
        self.merged = {one: survivor if into == gone else into for one, into in self.merged.items()}
        self.merged[gone] = survivor
        for device, design in self.design_of.items():
            if design == gone:
                self.design_of[device] = survivor

    def release(self) -> None:
        """As a release does it: designs that share a past reckon with each other, one after the other."""
        could: dict[int, list[Candidate]] = {design: [] for design in self.standing}
        for test in self.tests:
            could[self.design_of[test.device]].append(test)
        tests = {design: {test.test for test in found} for design, found in could.items()}
        for told in self.told:
            tests.setdefault(told.design, set()).update(vote.test for vote in told.votes)
        for group in group_by_shared_past(tests, self.merged):
            for design in group:
                if design in self.standing:
                    self.decide(design, could[design], [told for told in self.told if told.design in group])
        for told in self.told:
            told.open = told.open and told.design in self.standing

    def decide(self, design: int, could: list[Candidate], past: list[Told]) -> None:
        published = [
            PublishedState(
                told.votes,
                told.design == design,
                told.open and self.merged.get(told.design, told.design) == design,
            )
            for told in past
        ]
        decision = decide_merged_cell(published, could, DEFAULT_THRESHOLDS)
        votes = decision.votes
        if decision.action == "replace":
            assert {vote.test for vote in votes} <= {test.test for test in could}
        assert not votes or len({vote.contributor for vote in votes}) >= DEFAULT_THRESHOLDS.min_contributors
        if decision.action == "keep":
            return
        for told in past:
            told.open = told.open and told.design != design
        if decision.action == "replace":
            self.told.append(Told(design, votes))

    def check_history(self) -> None:
        states = [told.votes for told in self.told]
        for one, other in itertools.combinations(states, 2):
            assert len({vote.contributor for vote in one ^ other}) not in range(
                1, DEFAULT_THRESHOLDS.min_joiners
            )
        assert not given_away(states)


@pytest.mark.parametrize("seed", range(12))
def test_24_releases_of_designs_that_are_merged_and_moved_between(seed: int):
    group = Catalogue(random.Random(seed))
    for _ in range(14):
        group.join()
    happens = [group.join, group.join, group.build, group.retest, group.leave, group.move]
    for number in range(24):
        for _ in range(group.rng.randrange(4)):
            group.rng.choice(happens)()
        if number in (8, 16):
            group.merge()
        group.release()
    group.check_history()
    assert len(group.told) > 3
    assert len(group.standing) == 1


def test_a_rule_that_knows_one_design_only_is_caught():
    """The check is not blind: the same life under the plain rule gives somebody away."""
    caught = 0
    for seed in range(12):
        group = Catalogue(random.Random(seed))
        group.decide = lambda design, could, past, group=group: Catalogue.decide(  # type: ignore[method-assign]
            group, design, could, [told for told in past if told.design == design]
        )
        for _ in range(14):
            group.join()
        happens = [group.join, group.join, group.build, group.retest, group.leave, group.move]
        for number in range(24):
            for _ in range(group.rng.randrange(4)):
                group.rng.choice(happens)()
            if number in (8, 16):
                group.merge()
            group.release()
        try:
            group.check_history()
        except AssertionError:
            caught += 1
    assert caught
