"""Clubs that publish one design alone and through a pool, at random, and what all of it gives away.

Invented people. The checks are exact linear algebra over the published sets and know nothing of the rule.
"""

from __future__ import annotations

import itertools
import random
from collections import defaultdict
from collections.abc import Callable, Collection
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, timedelta

import numpy as np

from measurements.disclosure.pooled_rule import (
    PooledDecision,
    PooledPast,
    PooledState,
    decide_pooled,
    name_in_pool,
)
from measurements.disclosure.pooled_sending import build_home_past, choose_sending
from measurements.disclosure.release_rule import decide_cell
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.votes import Candidate, Vote, choose_votes

NOON = datetime(2026, 1, 1, 12, tzinfo=UTC)
LIMITS = Thresholds(min_contributors=3, public_min_contributors=3)
Decide = Callable[..., PooledDecision]


@dataclass
class Club:
    """One club: its valid tests, who takes part in the pool, its own releases and what it sent."""

    name: str
    sends: bool = True
    tests: list[Candidate] = field(default_factory=list)
    taking_part: set[str] = field(default_factory=set)
    alone: list[frozenset[Vote]] = field(default_factory=list)
    published: frozenset[Vote] | None = None
    ever_sent: set[Vote] = field(default_factory=set)
    sending: frozenset[Vote] = frozenset()

    def release(self, careless: bool) -> bool:
        """Make the club's own release, then send; say whether a set was published."""
        pooled = [build_home_past(self.ever_sent)] if self.ever_sent and not careless else []
        others = [state for state in self.alone if state != self.published]
        past = [*pooled, *others, *([self.published] if self.published else [])]
        made = decide_cell(self.published, past, self.tests, LIMITS)
        self.published = made.votes if made.action in ("keep", "replace") else None
        if made.action == "replace":
            self.alone.append(made.votes)
        valid = choose_votes(self.tests)
        if self.sends:
            if careless:
                self.sending = frozenset(vote for vote in valid if vote.contributor in self.taking_part)
            else:
                self.sending = choose_sending(self.alone, self.published, self.tests, self.taking_part)
            self.ever_sent |= self.sending
        return made.action == "replace"


@dataclass
class PoolWorld:
    """Clubs and their keeper. shown: (votes, weight of each club) of all that was published, in order."""

    rng: random.Random
    decide: Decide = decide_pooled
    careless: bool = False  # clubs publish and send whatever is valid
    clubs: list[Club] = field(default_factory=list)
    aside: set[str] = field(default_factory=set)
    states: list[PooledState] = field(default_factory=list)
    published: PooledState | None = None
    order: list[tuple[str, frozenset[Vote], dict[str, float]]] = field(default_factory=list)
    serial: itertools.count = field(default_factory=itertools.count)

    def club(self) -> Club:
        return self.rng.choice(self.clubs)

    def join(self) -> None:
        club = self.club()
        who = f"p{next(self.serial)}"
        self._test(club, who, f"d-{who}")
        if self.rng.random() < 0.9:
            club.taking_part.add(who)

    def build(self) -> None:
        club = self.club()
        if club.tests:
            self._test(club, self.rng.choice(club.tests).contributor, f"d{next(self.serial)}")

    def retest(self) -> None:
        club = self.club()
        if club.tests:
            old = self.rng.choice(club.tests)
            self._test(club, old.contributor, old.device)

    def leave(self) -> None:
        club = self.club()
        if club.tests:
            gone = self.rng.choice(club.tests).contributor
            club.tests = [test for test in club.tests if test.contributor != gone]

    def choose(self) -> None:
        """One member changes the own choice."""
        club = self.club()
        if club.tests:
            club.taking_part ^= {self.rng.choice(club.tests).contributor}

    def go(self) -> None:
        """A club leaves the pool."""
        club = self.club()
        club.sends, club.sending = False, frozenset()

    def set_aside(self) -> None:
        self.aside ^= {self.club().name}

    def release_alone(self) -> None:
        club = self.club()
        if club.release(self.careless) and club.published is not None:
            named = frozenset(name_in_pool(club.name, vote) for vote in club.published)
            self.order.append((club.name, named, {club.name: 1.0}))

    def release_pooled(self) -> None:
        alone = [votes for who, votes, _ in self.order if who]
        sent = frozenset(name_in_pool(club.name, vote) for club in self.clubs for vote in club.sending)
        past = PooledPast(tuple(self.states), tuple(alone), self.published)
        made = self.decide(past, sent, LIMITS, aside=self.aside)
        if made.action == "replace":
            self.states.append(made.state)
            self.order.append(("", made.state.votes, dict(made.state.weights)))
        self.published = made.state

    def _test(self, club: Club, who: str, device: str) -> None:
        n = next(self.serial)
        on = date(2026, 1, 1) + timedelta(days=n)
        club.tests = [test for test in club.tests if test.device != device]
        club.tests.append(Candidate(who, device, f"t{n}", on, NOON))

    def list_given_away(self, knowing: str | Collection[str], together: int) -> set[tuple[str, ...]]:
        """List persons whom some sum or difference of all that was published touches alone.

        knowing: clubs whose own votes the reader knows, or none. together: so many persons.
        """
        votes = sorted({vote for _, own, _ in self.order for vote in own}, key=lambda vote: vote.test)
        known = {knowing} if isinstance(knowing, str) else set(knowing)
        columns = [vote for vote in votes if vote.contributor.split(":")[0] not in known]
        if not columns:
            return set()
        matrix = np.array([_list_row(own, weights, columns) for _, own, weights in self.order])
        full = np.linalg.matrix_rank(matrix, tol=1e-6)
        people = sorted({vote.contributor for vote in columns})
        lost = set()
        for some in itertools.combinations(people, together):
            rest = [n for n, vote in enumerate(columns) if vote.contributor not in some]
            if full and (not rest or np.linalg.matrix_rank(matrix[:, rest], tol=1e-6) < full):
                lost.add(some)
        return lost


def _list_row(own: frozenset[Vote], weights: dict[str, float], columns: list[Vote]) -> list[float]:
    """List how much each column counts: a club's weight over its persons, a person's over the devices."""
    devices: dict[str, int] = defaultdict(int)
    people: dict[str, set[str]] = defaultdict(set)
    for vote in own:
        devices[vote.contributor] += 1
        people[vote.contributor.split(":")[0]].add(vote.contributor)
    row = []
    for vote in columns:
        group = vote.contributor.split(":")[0]
        share = weights[group] / len(people[group]) if vote in own else 0.0
        row.append(share / devices[vote.contributor] if share else 0.0)
    return row


EVENTS = {
    "join": 7,
    "build": 1,
    "retest": 1,
    "leave": 1,
    "choose": 0.3,
    "release_alone": 9,
    "release_pooled": 5,
    "set_aside": 0.1,
    "go": 0.05,
}


def play(seed: int, *, steps: int = 60, decide: Decide = decide_pooled, careless: bool = False) -> PoolWorld:
    rng = random.Random(seed)
    world = PoolWorld(rng, decide, careless)
    world.clubs = [Club(f"g{n}") for n in range(rng.randint(4, 9))]
    for _ in range(steps):
        getattr(world, rng.choices(list(EVENTS), list(EVENTS.values()))[0])()
    return replace(world)
