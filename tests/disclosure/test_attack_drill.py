"""The attacks on one person's figure over 24 releases: how much each circle learns, printed with `-s`."""

from __future__ import annotations

import itertools
import random
from dataclasses import dataclass

import numpy as np
import pytest

from measurements.disclosure.merged_designs import PublishedState
from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS
from measurements.disclosure.vote_sets import CORE, SetRule, decide_sets
from measurements.disclosure.votes import Candidate
from tests.disclosure import attack_worlds
from tests.disclosure.attack_worlds import ATTACKS, BLIND_DB, DAY, NOON

QUICK, LONG = range(2), range(20)
# among three who join together, two know two of three figures: THREATS.md says so
OPEN_TO_TWO = {"two_of_three", "join_as_one_leaves"}


def print_widths(name: str, now: dict[str, float], before: dict[str, float]) -> None:
    cells = " ".join(f"{circle}: {before[circle]:4.1f} -> {now[circle]:4.1f}" for circle in now)
    print(f"{name:20} blind {BLIND_DB:.1f} dB | careless -> rule | {cells}")


# of three who are the first of a design, one reads the larger or the smaller of two, and two read the third
BEGINNINGS = {attack.__name__ for attack in attack_worlds.BEGINNINGS}
SAFE = [attack for attack in ATTACKS if attack.__name__ not in BEGINNINGS]


def test_what_is_left_among_the_first_three_of_a_design():
    """THREATS.md says so; a change for the better has to change it there."""
    one = attack_worlds.list_widths(attack_worlds.first_three_with_one, QUICK, careless=False)
    two = attack_worlds.list_widths(attack_worlds.first_three_with_two, QUICK, careless=False)
    print(
        f"first three: one member {one['one member']:.1f} dB, two who conspire {two['two conspire']:.1f} dB"
    )
    assert one["one member"] >= 0.3 * BLIND_DB
    assert two["two conspire"] <= 0.2 * BLIND_DB


@pytest.mark.parametrize("attack", SAFE, ids=lambda attack: attack.__name__)
def test_no_attack_narrows_one_persons_figure_much(attack):
    check_widths(attack, QUICK, {"outsider": 0.5, "one member": 0.5, "two conspire": 0.4})


@pytest.mark.long
@pytest.mark.parametrize("attack", SAFE, ids=lambda attack: attack.__name__)
def test_no_attack_narrows_one_persons_figure_much_over_many_groups(attack):
    check_widths(attack, LONG, {"outsider": 0.7, "one member": 0.65, "two conspire": 0.6})


def check_widths(attack, seeds: range, least: dict[str, float]) -> None:
    """least: of the blind guess, for each circle; few groups scatter more."""
    now = attack_worlds.list_widths(attack, seeds, careless=False)
    before = attack_worlds.list_widths(attack, seeds, careless=True)
    print_widths(attack.__name__, now, before)
    for circle, share in least.items():
        if circle != "two conspire" or attack.__name__ not in OPEN_TO_TWO:
            assert now[circle] >= share * BLIND_DB, circle


def test_the_drill_finds_a_careless_rule_out():
    """Toggling under a rule that publishes whatever is valid pins a newcomer."""
    before = attack_worlds.list_widths(attack_worlds.retest, QUICK, careless=True)
    assert before["one member"] < 0.5 * BLIND_DB


# What the rule costs: a group over 60 releases, with flagged bands and sweeps of different spans.

SPANS = frozenset({"80m", "60m", "40m", "30m", "20m", "17m", "15m", "12m", "10m"})
EVERY = SPANS | {"160m"}


@dataclass
class Utility:
    """What one group has of the rule over many releases.

    waits: releases from a first test to the first set with its person, of those who got there. dark: share of
    releases without evidence after the first with it. bands: published at the end. evidence: whether there is
    any at the end.
    """

    waits: list[int]
    dark: float
    bands: int
    evidence: bool


def use(seed: int, joins: float, releases: int = 60) -> Utility:
    rng, serial = random.Random(seed), itertools.count()
    tests: list[Candidate] = []
    past: list[PublishedState] = []
    came: dict[str, int] = {}
    counted: dict[str, int] = {}
    dark: list[bool] = []
    for number in range(releases):
        for _ in range(np.random.default_rng(seed * 1000 + number).poisson(joins)):
            came[f"p{len(came)}"] = number
            tests.append(measure(rng, f"p{len(came) - 1}", next(serial)))
        for who in [test.contributor for test in tests if test.bands < SPANS]:
            if rng.random() < 0.3:  # a flagged band asks for a re-test
                tests.append(measure(rng, who, next(serial)))
        if tests and rng.random() < 0.1:  # one in ten releases somebody leaves
            gone = rng.choice(tests).contributor
            tests = [test for test in tests if test.contributor != gone]
        for scope, made in decide_sets(past, tests, SetRule(SPANS, DEFAULT_THRESHOLDS)).items():
            if made.decision.action in ("replace", "withhold"):
                past = [
                    PublishedState(s.votes, True, s.open and s.scope != scope, False, s.scope, s.bands)
                    for s in past
                ]
            if made.decision.action == "replace":
                past.append(PublishedState(made.decision.votes, True, True, False, scope, made.bands))
        open_now = [state for state in past if state.open]
        for vote in {vote for state in open_now if state.scope == CORE for vote in state.votes}:
            counted.setdefault(vote.contributor, number)
        if any(state.scope == CORE for state in past):
            dark.append(not any(state.scope == CORE for state in open_now))
    waits = [counted[who] - came[who] for who in counted]
    bands = {band for state in past if state.open for band in state.bands}
    return Utility(waits, float(np.mean(dark)) if dark else 0.0, len(bands), bool(bands))


def measure(rng: random.Random, who: str, n: int) -> Candidate:
    """A test: one in three sweeps does not reach 160 m, and 5 in 100 tests have a flagged band."""
    reach = SPANS if rng.random() < 1 / 3 else EVERY
    flagged = {rng.choice(sorted(SPANS))} if rng.random() < 0.05 else set()
    return Candidate(who, f"d-{who}", f"t{n}-{who}", DAY, NOON, reach - flagged)


@pytest.mark.parametrize(("name", "joins", "longest"), [("quiet", 0.3, 9.0), ("busy", 1.0, 4.0)])
def test_what_the_rule_costs(name, joins, longest):
    runs = [use(seed, joins) for seed in range(20)]
    wait = np.mean([wait for each in runs for wait in each.waits])
    dark = np.mean([each.dark for each in runs])
    bands = np.mean([each.bands for each in runs])
    designs = np.mean([each.evidence for each in runs])
    print(
        f"{name} ({joins} joins a release): a newcomer counts after {wait:.1f} releases, dark {dark:.0%} of "
        f"the time, {bands:.1f} of {len(EVERY)} bands, {designs:.0%} of designs show evidence at the end"
    )
    assert dark == 0
    assert wait < longest
    assert designs >= 0.95 and bands >= 9
