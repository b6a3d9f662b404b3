"""Twenty-four releases of a lively group: nothing published may give one person away.

The checks know nothing of the rule's code: they look at what every release published, as a member who
kept all of them would, and count people as the group itself knows them.
"""

from __future__ import annotations

import itertools
import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from measurements.disclosure.auditor import PublishedSet, audit_publications
from measurements.disclosure.release_rule import DECISION_REASONS, CellDecision, decide_cell
from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS, Thresholds
from measurements.disclosure.votes import Candidate, Vote, choose_votes

DAY = date(2026, 1, 1)
NOON = datetime(2026, 1, 1, 12, tzinfo=UTC)
RELEASES = 24

Rule = Callable[..., CellDecision]


@dataclass
class Group:
    """People, their devices of one design, their tests; and what was published of them.

    rule: what decides; the house's own, unless a test tries a careless one.
    excluded: tests that a steward has set aside, and may take back.
    """

    thresholds: Thresholds = DEFAULT_THRESHOLDS
    rule: Rule = decide_cell
    tests: list[Candidate] = field(default_factory=list)
    excluded: set[str] = field(default_factory=set)
    published: frozenset[Vote] | None = None
    past: list[frozenset[Vote]] = field(default_factory=list)
    decisions: list[CellDecision] = field(default_factory=list)
    serial: itertools.count = field(default_factory=lambda: itertools.count(1))

    def people(self) -> list[str]:
        return sorted({test.contributor for test in self.tests})

    def devices(self) -> list[str]:
        return sorted({test.device for test in self.tests})

    def valid(self) -> list[Candidate]:
        return [test for test in self.tests if test.test not in self.excluded]

    def measure(self, who: str, device: str) -> None:
        n = next(self.serial)
        self.tests.append(
            Candidate(who, device, f"t{n}", DAY + timedelta(days=n // 4), NOON + timedelta(minutes=n))
        )

    # What happens in a group; each takes a number that chooses whom it happens to.

    def join(self, choice: int) -> None:
        who = f"p{next(self.serial)}"
        for _ in range(1 + choice % 2):
            self.measure(who, f"d{next(self.serial)}")

    def build(self, choice: int) -> None:
        if people := self.people():
            self.measure(people[choice % len(people)], f"d{next(self.serial)}")

    def retest(self, choice: int) -> None:
        if self.tests:
            test = self.tests[choice % len(self.tests)]
            self.measure(test.contributor, test.device)

    def leave(self, choice: int) -> None:
        if people := self.people():
            gone = people[choice % len(people)]
            self.tests = [test for test in self.tests if test.contributor != gone]

    def withdraw(self, choice: int) -> None:
        if self.tests:
            del self.tests[choice % len(self.tests)]

    def toggle(self, choice: int) -> None:
        """A steward excludes a test, or takes it back: the same setting toggled twice."""
        if self.tests:
            self.excluded ^= {self.tests[choice % len(self.tests)].test}

    def take_back(self, _choice: int) -> None:
        """The steward takes everything back that was set aside."""
        self.excluded.clear()

    def release(self) -> None:
        before, valid = self.published, self.valid()
        decision = self.rule(before, self.past, valid, self.thresholds, excluded=self.excluded)
        if decision.action == "replace":
            self.past.append(decision.votes)
        self.published = decision.votes if decision.action in ("keep", "replace") else None
        self.decisions.append(decision)
        if self.rule is decide_cell:
            self.check_release(before, valid, decision)

    # What must hold of each release by itself.

    def check_release(
        self, before: frozenset[Vote] | None, valid: list[Candidate], decision: CellDecision
    ) -> None:
        votes = self.published or frozenset()
        if decision.action == "replace":
            assert {vote.test for vote in votes} <= {test.test for test in valid}, "nothing new has old votes"
        if votes:
            of_each = Counter(vote.contributor for vote in votes)
            assert len(of_each) >= self.thresholds.min_contributors
            assert max(of_each.values()) <= self.thresholds.votes_per_contributor
            assert len({vote.device for vote in votes}) == len(votes), "one vote per device"
        if decision.action == "keep":
            assert votes == before
        if decision.action in ("withhold", "empty"):
            assert decision.votes == frozenset()

    # What must hold of all releases together.

    def check_history(self) -> None:
        for one, other in itertools.combinations(self.past, 2):
            people = {vote.contributor for vote in one ^ other}
            assert len(people) not in range(1, self.thresholds.min_joiners)
        assert not given_away(self.past, together=2)
        history = [PublishedSet("design", f"release {n}", votes) for n, votes in enumerate(self.past)]
        assert audit_publications(history, self.thresholds.min_joiners) is None


def given_away(states: list[frozenset[Vote]], together: int = 1) -> set[tuple[str, ...]]:
    """Who, alone or `together` with others, is all that some sum or difference of several releases touches.

    By ranks over whole-number matrices: a combination that is nothing on all other people's tests and
    something on these ones' exists when leaving out their columns loses rank.
    """
    tests = sorted({vote.test for state in states for vote in state})
    owner = {vote.test: vote.contributor for state in states for vote in state}
    if not tests:
        return set()
    matrix = np.array([[test in {v.test for v in state} for test in tests] for state in states], dtype=float)
    full = np.linalg.matrix_rank(matrix)
    lost = set()
    for some in itertools.combinations(sorted(set(owner.values())), together):
        others = [index for index, test in enumerate(tests) if owner[test] not in some]
        if not others or np.linalg.matrix_rank(matrix[:, others]) < full:
            lost.add(some)
    return lost


# How often each thing happens between two releases, on average.
LIVELY = {"join": 1.2, "build": 0.5, "retest": 1.0, "leave": 0.7, "withdraw": 0.4, "toggle": 0.4}
GROWING = {"join": 1.0, "build": 0.2, "retest": 0.5, "leave": 0.1, "withdraw": 0.1, "toggle": 0.1}
TOGGLING = {"join": 0.3, "retest": 0.2, "leave": 0.2, "withdraw": 0.2, "toggle": 2.5}
QUIET = {"join": 0.1, "toggle": 0.5, "take_back": 0.4}
HABITS = {"lively": LIVELY, "growing": GROWING, "toggling": TOGGLING, "quiet": QUIET}


def simulated(
    seed: int, habits: dict[str, float], thresholds: Thresholds = DEFAULT_THRESHOLDS, rule: Rule = decide_cell
) -> Group:
    rng = random.Random(seed)
    group = Group(thresholds, rule)
    for _ in range(rng.randint(0, 7)):
        group.join(rng.randrange(1000))
    for _ in range(RELEASES):
        for event, often in habits.items():
            for _ in range(round(rng.expovariate(1 / often))):
                getattr(group, event)(rng.randrange(1000))
        group.release()
    return group


@pytest.mark.parametrize("habits", HABITS)
@pytest.mark.parametrize("seed", range(12))
def test_24_releases_never_give_one_person_away(seed, habits):
    simulated(seed, HABITS[habits]).check_history()


@pytest.mark.parametrize(
    "thresholds", [Thresholds(min_joiners=4), Thresholds(2, 2, 3, 1), Thresholds(5, 10, 3, 2)]
)
@pytest.mark.parametrize("seed", range(4))
def test_other_thresholds_hold_as_well(seed, thresholds):
    simulated(100 + seed, LIVELY, thresholds).check_history()


def test_evidence_does_get_published():
    """A rule that publishes nothing would pass everything above."""
    growing = [simulated(seed, GROWING) for seed in range(12)]
    actions = Counter(d.action for group in growing for d in group.decisions)
    assert actions["replace"] >= 12 * 4
    assert actions["withhold"] < sum(actions.values()) / 20  # only exclusions for cause
    assert all(group.published for group in growing if len(group.people()) >= 12)


def test_every_way_of_deciding_is_met():
    groups = [simulated(seed, habits) for seed in range(12) for habits in HABITS.values()]
    assert {decision.reason for group in groups for decision in group.decisions} == set(DECISION_REASONS)


def publish_everything(_published, _past, candidates, thresholds, **_given):
    votes = choose_votes(candidates, thresholds.votes_per_contributor)
    enough = len({vote.contributor for vote in votes}) >= thresholds.min_contributors
    return CellDecision("replace" if enough else "withhold", votes, "enough_joiners")


def look_at_the_last_state_only(published, past, candidates, thresholds, **given):
    return decide_cell(published, past[-1:], candidates, thresholds, **given)


@pytest.mark.parametrize("rule", [publish_everything, look_at_the_last_state_only])
def test_the_checks_find_a_careless_rule_out(rule):
    caught = 0
    for seed, habits in itertools.product(range(12), HABITS.values()):
        try:
            simulated(seed, habits, rule=rule).check_history()
        except AssertionError:
            caught += 1
    assert caught >= 3


EVENTS = st.lists(
    st.tuples(
        st.sampled_from(
            [
                "join",
                "join",
                "build",
                "retest",
                "leave",
                "withdraw",
                "toggle",
                "take_back",
                "release",
                "release",
            ]
        ),
        st.integers(0, 30),
    ),
    min_size=8,
    max_size=60,
)


@settings(max_examples=400)
@given(EVENTS)
def test_no_sequence_of_events_gives_one_person_away(events):
    group = Group()
    for choice in range(5):
        group.join(choice)
    for event, choice in events:
        if event == "release":
            group.release()
        else:
            getattr(group, event)(choice)
    group.release()
    group.check_history()


# one account that uploads, withdraws, tests again and has tests excluded as often as it can
ATTACK = {"join": 0.3, "build": 1.5, "retest": 2.0, "withdraw": 2.5, "toggle": 1.5, "leave": 0.1}


@pytest.mark.long
@pytest.mark.parametrize("block", range(20))
def test_2000_random_histories_touch_no_one_or_two_persons(block):
    """No signed combination of published sets touches one or two persons, whatever an attacker does."""
    published = 0
    for seed in range(block * 100, block * 100 + 100):
        group = simulated(10_000 + seed, ATTACK if seed % 2 else LIVELY)
        assert not given_away(group.past) and not given_away(group.past, together=2)
        published += len(group.past)
    assert published > 50
