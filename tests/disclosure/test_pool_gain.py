"""What 40 invented clubs gain by a pool: designs with a verdict alone and pooled, people until the first one.

Designs are chosen as songs are: few by many. Everybody builds some designs over eight quarters; nine in ten
take part. The decisions are the product's; who builds what is made up here.
"""

from __future__ import annotations

import random
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

import numpy as np

from measurements.disclosure.pooled_rule import (
    PooledPast,
    PooledState,
    decide_pooled,
    name_in_pool,
    split_by_group,
)
from measurements.disclosure.pooled_sending import build_home_past, choose_sending
from measurements.disclosure.release_rule import decide_cell
from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS
from measurements.disclosure.votes import Candidate, Vote

CLUBS, MEMBERS, DESIGNS, QUARTERS = 40, 8, 150, 8
BUILDS_A_QUARTER = 0.35  # of a member
TAKING_PART = 0.9
NOON = datetime(2026, 1, 1, 12, tzinfo=UTC)


@dataclass
class Home:
    """One design in one club."""

    tests: list[Candidate] = field(default_factory=list)
    alone: list[frozenset[Vote]] = field(default_factory=list)
    published: frozenset[Vote] | None = None
    sent: set[Vote] = field(default_factory=set)


@dataclass
class Pooled:
    """One design at the keeper, and when its first verdicts came, in persons who had built it."""

    states: list[PooledState] = field(default_factory=list)
    published: PooledState | None = None
    persons_alone: int | None = None
    persons_pooled: int | None = None


def release_home(home: Home, taking_part: set[str], in_pool: bool) -> frozenset[Vote]:
    past = [state for state in home.alone if state != home.published]
    past = [build_home_past(home.sent), *past] if home.sent else past
    past += [home.published] if home.published else []
    made = decide_cell(home.published, past, home.tests, DEFAULT_THRESHOLDS)
    home.published = made.votes if made.action in ("keep", "replace") else None
    if made.action == "replace":
        home.alone.append(made.votes)
    if not in_pool:
        return frozenset()
    leaving = choose_sending(home.alone, home.published, home.tests, taking_part)
    home.sent |= leaving
    return leaving


def play(seed: int, in_pool: bool) -> tuple[dict[tuple[int, int], Home], dict[int, Pooled]]:
    rng = random.Random(seed)
    popularity = 1 / np.arange(1, DESIGNS + 1)
    homes: dict[tuple[int, int], Home] = defaultdict(Home)
    pools: dict[int, Pooled] = defaultdict(Pooled)
    people = [(club, f"c{club}p{n}") for club in range(CLUBS) for n in range(MEMBERS)]
    taking_part = {who for _, who in people if rng.random() < TAKING_PART}
    serial = 0
    for quarter in range(QUARTERS):
        for club, who in people:
            if rng.random() < BUILDS_A_QUARTER:
                design = rng.choices(range(DESIGNS), popularity)[0]
                serial += 1
                on = NOON + timedelta(days=90 * quarter)
                homes[club, design].tests.append(Candidate(who, f"d{serial}", f"t{serial}", on.date(), on))
        leaving: dict[int, set[Vote]] = defaultdict(set)
        for (club, design), home in sorted(homes.items()):
            sent = release_home(home, taking_part, in_pool)
            leaving[design] |= {name_in_pool(str(club), vote) for vote in sent}
        note_first(homes, pools)
        for design, votes in sorted(leaving.items()):
            release_pooled(homes, pools[design], design, frozenset(votes))
    return homes, pools


def count_people(homes: dict[tuple[int, int], Home], design: int) -> int:
    return len({each.contributor for (_, d), home in homes.items() if d == design for each in home.tests})


def note_first(homes: dict[tuple[int, int], Home], pools: dict[int, Pooled]) -> None:
    for (_, design), home in homes.items():
        if home.published and pools[design].persons_alone is None:
            pools[design].persons_alone = count_people(homes, design)


def release_pooled(
    homes: dict[tuple[int, int], Home], pooled: Pooled, design: int, votes: frozenset[Vote]
) -> None:
    alone = tuple(
        frozenset(name_in_pool(str(club), vote) for vote in own)
        for (club, d), home in sorted(homes.items())
        if d == design
        for own in home.alone
    )
    past = PooledPast(tuple(pooled.states), alone, pooled.published)
    made = decide_pooled(past, votes, DEFAULT_THRESHOLDS)
    if made.action == "replace" and made.state is not None:
        pooled.states.append(made.state)
    pooled.published = made.state
    if is_shown(pooled) and pooled.persons_pooled is None:
        pooled.persons_pooled = count_people(homes, design)


def is_shown(pooled: Pooled) -> bool:
    """Everybody reads a pooled design from five persons on, by weight."""
    state = pooled.published
    return state is not None and sum(state.weights.values()) >= DEFAULT_THRESHOLDS.public_min_contributors


def test_forty_clubs_have_many_times_as_many_verdicts_together():
    shown = []
    for seed in range(3):
        homes, pools = play(seed, in_pool=True)
        without, _ = play(seed, in_pool=False)
        listed = [
            len({design for (of, design), home in homes.items() if of == club and home.tests})
            for club in range(CLUBS)
        ]
        by_pool = {design for design, pooled in pools.items() if is_shown(pooled)}
        before = [count_alone(without, club) for club in range(CLUBS)]
        now = [count_own(homes, club, by_pool) for club in range(CLUBS)]
        anywhere = {design for (_, design), home in without.items() if home.published}
        until = [
            np.mean([value for each in pools.values() if (value := getattr(each, name)) is not None])
            for name in ("persons_alone", "persons_pooled")
        ]
        shown.append((np.mean(listed), np.mean(before), np.mean(now), len(anywhere), len(by_pool), *until))
    listed, before, now, anywhere, pooled, alone_at, pooled_at = np.mean(shown, axis=0)
    print(
        f"40 clubs of 8, two years: a club lists {listed:.1f} designs, {before:.2f} with a verdict alone, "
        f"{now:.1f} with the pool; {anywhere:.0f} designs have one in some club, {pooled:.0f} in the pool; "
        f"people who had built a design at its first verdict: {alone_at:.0f} alone, {pooled_at:.0f} pooled"
    )
    assert now > 5 * before and pooled > anywhere
    assert pooled_at < alone_at


def count_alone(homes: dict[tuple[int, int], Home], club: int) -> int:
    return sum(1 for (of, _), home in homes.items() if of == club and home.published)


def count_own(homes: dict[tuple[int, int], Home], club: int, by_pool: set[int]) -> int:
    """Designs of this club's list with a verdict, in the club or by the pool."""
    return sum(
        1
        for (of, design), home in homes.items()
        if of == club and home.tests and (home.published or design in by_pool)
    )


def test_no_club_counts_for_more_than_a_third_in_any_of_them():
    _, pools = play(9, in_pool=True)
    states = [state for pooled in pools.values() for state in pooled.states]
    assert len(states) > 20
    for state in states:
        total = sum(state.weights.values())
        assert max(state.weights.values()) <= total / 3 * (1 + 1e-9)
        assert len(split_by_group(state.votes)) >= 3
