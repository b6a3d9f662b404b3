"""A design over 24 releases with attackers among its members, and what it publishes of one person.

Invented people. Every test has one figure (dB) per person; a reader sees the median of each published set to
1 dB, from ten persons on to 0.5 dB with the 10 and 90 % points. What a reader can infer is counted by drawing
the figures that the reader does not know and keeping the draws that would have been published alike.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta

import numpy as np

from measurements.disclosure.merged_designs import PublishedState
from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS
from measurements.disclosure.vote_sets import SetRule, decide_sets
from measurements.disclosure.votes import Candidate, Vote, choose_votes

DAY, NOON = date(2026, 1, 1), datetime(2026, 1, 1, 12, tzinfo=UTC)
BANDS = frozenset({"80m", "40m", "20m"})
MEAN_DB, SPREAD_DB = 25.0, 3.0
BLIND_DB = 2 * 1.645 * SPREAD_DB  # 90 % of a normal distribution: tables of the normal distribution
RELEASES = 24
CARELESS_SETS = 12  # enough to show what a careless rule gives away
DETAIL = 10
CHAINS, STEPS = 60, 900


@dataclass
class World:
    """Tests of the members, and the sets that were published. careless: by a rule that publishes all."""

    rng: random.Random
    careless: bool = False
    tests: list[Candidate] = field(default_factory=list)
    figure_db: dict[str, float] = field(default_factory=dict)
    past: list[PublishedState] = field(default_factory=list)
    shown: list[frozenset[Vote]] = field(default_factory=list)
    serial: itertools.count = field(default_factory=itertools.count)

    def test(
        self, who: str, *, device: str = "", db: float | None = None, bands: frozenset[str] = BANDS
    ) -> Candidate:
        n = next(self.serial)
        made = Candidate(who, device or f"d-{who}", f"t{n}", DAY + timedelta(days=n), NOON, bands)
        self.figure_db[made.test] = self.rng.gauss(MEAN_DB, SPREAD_DB) if db is None else db
        self.tests.append(made)
        return made

    def withdraw(self, who: str) -> None:
        self.tests = [test for test in self.tests if test.contributor != who]

    def release(self) -> None:
        if self.careless and len(self.shown) < CARELESS_SETS:
            for band in sorted(BANDS):
                self._show(choose_votes(test for test in self.tests if band in test.bands))
            self._show(choose_votes(test for test in self.tests if test.bands >= BANDS))
        if self.careless:
            return
        rule = SetRule(BANDS, DEFAULT_THRESHOLDS)
        for scope, made in decide_sets(self.past, self.tests, rule).items():
            if made.decision.action != "replace":
                continue
            closed = [
                PublishedState(
                    each.votes, True, each.open and each.scope != scope, False, each.scope, each.bands
                )
                for each in self.past
            ]
            self.past = [*closed, PublishedState(made.decision.votes, True, True, False, scope, made.bands)]
            self._show(made.decision.votes)

    def _show(self, votes: frozenset[Vote]) -> None:
        people = {vote.contributor for vote in votes}
        if len(people) >= DEFAULT_THRESHOLDS.min_contributors and votes not in self.shown:
            self.shown.append(votes)

    def measure_width_db(self, victim: str, known_to: Collection[str]) -> float:
        """Measure the 90 % interval, dB, of the victim's figure for readers who know these persons' figures.

        Chains begin at the truth and move the unknown figures as the prior has them, wherever all that was
        published would have been the same (Metropolis and others, 1953).
        """
        whose = {vote.test: vote.contributor for votes in self.shown for vote in votes}
        tests = sorted(whose)
        own = [place for place, test in enumerate(tests) if whose[test] == victim]
        if not own:
            return BLIND_DB
        columns = [[tests.index(vote.test) for vote in votes] for votes in self.shown]
        truth = np.array([self.figure_db[test] for test in tests])
        free = np.array([place for place, test in enumerate(tests) if whose[test] not in known_to])
        draws = np.random.default_rng(self.rng.randrange(2**32))
        chains = np.tile(truth, (CHAINS, 1))
        wanted = _see_all(truth[None], columns)
        kept = []
        for step in range(STEPS):
            tried = chains.copy()
            if step % 3:
                # the victim's own figure as often as all others: it is what is measured
                moved = np.where(draws.random(CHAINS) < 0.5, own[0], draws.choice(free, CHAINS))
                tried[np.arange(CHAINS), moved] = draws.normal(MEAN_DB, SPREAD_DB, CHAINS)
                allowed = np.ones(CHAINS, dtype=bool)
            else:
                tried[:, free] += draws.normal(0, 0.3, (CHAINS, free.size))
                ratio = ((chains[:, free] - MEAN_DB) ** 2 - (tried[:, free] - MEAN_DB) ** 2).sum(axis=1)
                allowed = np.log(draws.random(CHAINS)) < ratio / (2 * SPREAD_DB**2)
            allowed &= (_see_all(tried, columns) == wanted).all(axis=1)
            chains[allowed] = tried[allowed]
            if step >= STEPS // 3:
                kept.append(chains[:, own[0]].copy())
        return float(np.subtract(*np.quantile(np.concatenate(kept), (0.95, 0.05))))


def _see_all(figures_db: np.ndarray, columns: list[list[int]]) -> np.ndarray:
    return np.concatenate([_see(figures_db[:, each]) for each in columns], axis=1)


def _see(figures_db: np.ndarray) -> np.ndarray:
    """What is shown of (N, P) figures: the median, and from ten persons on the 10 and 90 % points."""
    if figures_db.shape[1] < DETAIL:
        return np.round(np.median(figures_db, axis=1, keepdims=True))
    return np.round(np.quantile(figures_db, (0.1, 0.5, 0.9), axis=1).T / 0.5) * 0.5


Attack = Callable[[World], None]
VICTIM, FIRST, SECOND = "victim", "attacker 1", "attacker 2"


def run(attack: Callable[[World, int], None], seed: int, *, careless: bool = False) -> World:
    """Play 24 releases: five members begin, the victim joins with two more, others come slowly."""
    world = World(random.Random(seed), careless)
    for n in range(0 if attack in BEGINNINGS else 4):
        world.test(f"member {n}")
    if attack not in BEGINNINGS:
        world.test(FIRST)
    for number in range(RELEASES):
        if number == 2:
            world.test(VICTIM, bands=BANDS - {"80m"} if attack is ask_jointly else BANDS)
            for n in range(0 if attack in (two_of_three, *BEGINNINGS) else 2):
                world.test(f"newcomer {n}")
        if number in (5, 10, 15) and len({test.contributor for test in world.tests}) < 12:
            world.test(f"late member {number}")
        attack(world, number)
        world.release()
    return world


def toggle(world: World, number: int) -> None:
    """One account uploads and withdraws in turn."""
    world.withdraw(FIRST)
    if number % 2:
        world.test(FIRST)


def toggle_two(world: World, number: int) -> None:
    """Two accounts upload and withdraw in turn."""
    toggle(world, number)
    world.withdraw(SECOND)
    if number % 2 == 0:
        world.test(SECOND)


def retest(world: World, number: int) -> None:
    """One account tests again before each release, high and low."""
    world.test(FIRST, db=45.0 if number % 2 else 5.0)


def move(world: World, number: int) -> None:
    """One account moves its tested device to another design and back."""
    away = [test for test in world.tests if test.contributor == FIRST]
    if number % 2:
        world.tests = [test for test in world.tests if test.contributor != FIRST]
        world.moved = away  # type: ignore[attr-defined]
    elif number:
        world.tests += world.moved  # type: ignore[attr-defined]


def invent_guests(world: World, number: int) -> None:
    """An operator invents a guest for each night, whom no steward confirms."""
    world.test("unconfirmed", device=f"invented {number}", db=45.0 if number % 2 else 5.0)


def ask_jointly(world: World, number: int) -> None:
    """Nobody acts: a reader asks about 40 m, and about 40 and 80 m together, which only the victim lacks."""


def know_a_friend(world: World, number: int) -> None:
    """Two releases and one friend whose figure the reader knows."""
    if number == 4:
        world.test(SECOND)


def watch_a_leaver(world: World, number: int) -> None:
    """The victim leaves; nobody joins to hide it."""
    if number == 12:
        world.withdraw(VICTIM)


def join_as_one_leaves(world: World, number: int) -> None:
    """Three join as the victim leaves: two who conspire, and one more."""
    if number == 12:
        world.withdraw(VICTIM)
        world.test(SECOND, db=45.0)
        world.test("attacker 3", db=45.0)
        world.test("bystander")


def two_of_three(world: World, number: int) -> None:
    """Two who conspire join with the victim, one with a very high figure and one with a very low one."""
    if number == 2:
        world.test(SECOND, db=45.0)
        world.test("attacker 3", db=5.0)


def first_three_with_one(world: World, number: int) -> None:
    """The first three of a design: the victim, a bystander, and one member with a very high figure."""
    if number == 2:
        world.test(FIRST, db=45.0)
        world.test("bystander")


def first_three_with_two(world: World, number: int) -> None:
    """The first three of a design: the victim and two who conspire, one very high and one very low."""
    if number == 2:
        world.test(FIRST, db=45.0)
        world.test(SECOND, db=5.0)


ATTACKS = (
    toggle,
    toggle_two,
    retest,
    move,
    invent_guests,
    ask_jointly,
    know_a_friend,
    watch_a_leaver,
    join_as_one_leaves,
    two_of_three,
    first_three_with_one,
    first_three_with_two,
)
BEGINNINGS = (first_three_with_one, first_three_with_two)  # before anybody else tested the design
CIRCLES = {
    "outsider": (),
    "one member": (FIRST, "unconfirmed"),
    "two conspire": (FIRST, SECOND, "attacker 3", "unconfirmed"),
}


def list_widths(attack: Callable[[World, int], None], seeds: range, *, careless: bool) -> dict[str, float]:
    """Compute for each circle the median width, dB, over several groups."""
    found: dict[str, list[float]] = {name: [] for name in CIRCLES}
    for seed in seeds:
        world = run(attack, seed, careless=careless)
        for name, known in CIRCLES.items():
            found[name].append(world.measure_width_db(VICTIM, known))
    return {name: float(np.median(widths)) for name, widths in found.items()}
