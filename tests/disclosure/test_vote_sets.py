"""A design's sets of votes: no band and no question about several bands differs by one or two persons."""

from __future__ import annotations

import itertools
import random
from datetime import UTC, date, datetime, timedelta

import pytest

from measurements.disclosure.auditor import PublishedSet, audit_publications
from measurements.disclosure.merged_designs import PublishedState
from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS
from measurements.disclosure.vote_sets import CORE, SetRule, choose_core_bands, decide_sets
from measurements.disclosure.votes import Candidate, Vote
from measurements.rf.bands import Band
from tests.disclosure.test_simulation import given_away

DAY, NOON = date(2026, 1, 1), datetime(2026, 1, 1, 12, tzinfo=UTC)
CORE_BANDS = frozenset({"80m", "40m", "20m"})
EVERY = CORE_BANDS | {"160m"}
RULE = SetRule(CORE_BANDS, DEFAULT_THRESHOLDS)


def candidate(who: str, bands: frozenset[str] = EVERY, test: str | None = None, n: int = 0) -> Candidate:
    return Candidate(who, f"d-{who}", test or f"t-{who}", DAY + timedelta(days=n), NOON, bands)


def state(people: str, bands: frozenset[str], scope: str = CORE, is_open: bool = True) -> PublishedState:
    votes = frozenset(Vote(who, f"d-{who}", f"t-{who}") for who in people)
    return PublishedState(votes, own=True, open=is_open, scope=scope, bands=bands)


def people(votes: frozenset[Vote]) -> str:
    return "".join(sorted(vote.contributor for vote in votes))


def test_the_core_bands_have_one_set_of_persons_who_are_valid_on_all_of_them():
    """One person's 80 m is flagged: the 40 m verdict and the joint one would differ by that person."""
    group = [*(candidate(who) for who in "abcd"), candidate("e", EVERY - {"80m"})]
    decided = decide_sets([], group, RULE)
    assert people(decided[CORE].decision.votes) == "abcd" and decided[CORE].bands == EVERY
    assert set(decided) == {CORE}  # 160 m differs by one person from what the core set publishes there


def test_a_band_beyond_the_core_has_a_set_of_its_own_where_somebody_does_not_reach_it():
    group = [*(candidate(who) for who in "abc"), *(candidate(who, CORE_BANDS) for who in "de")]
    decided = decide_sets([], group, RULE)
    assert people(decided[CORE].decision.votes) == "abcde" and decided[CORE].bands == CORE_BANDS
    assert people(decided["160m"].decision.votes) == "abc" and decided["160m"].bands == {"160m"}


def test_a_band_that_leaves_the_core_set_is_published_again_as_it_was_or_waits():
    before = [state("abc", EVERY)]
    group = [*(candidate(who) for who in "abc"), *(candidate(who, CORE_BANDS) for who in "def")]
    decided = decide_sets(before, group, RULE)
    assert people(decided[CORE].decision.votes) == "abcdef" and decided[CORE].bands == CORE_BANDS
    assert people(decided["160m"].decision.votes) == "abc"
    assert decided["160m"].decision.reason == "published_again"
    without_a = decide_sets(before, group[1:], RULE)
    assert "160m" not in without_a  # b and c alone are two, and a's absence would show


def test_a_set_of_its_own_ends_when_the_core_set_covers_its_band():
    before = [state("abc", CORE_BANDS), state("abc", frozenset({"160m"}), "160m")]
    decided = decide_sets(before, [candidate(who) for who in "abcdef"], RULE)
    assert decided[CORE].bands == EVERY
    assert decided["160m"].decision.action == "withhold"


def test_a_core_that_grows_covers_no_band_by_persons_who_stand_in_that_bands_past():
    """160 m comes into the core: abcd and abc differ by one person there."""
    before = [state("abcd", CORE_BANDS), state("abc", frozenset({"160m"}), "160m")]
    wider = SetRule(EVERY, DEFAULT_THRESHOLDS)
    decided = decide_sets(before, [candidate(who) for who in "abcde"], wider)
    assert decided[CORE].decision.action == "keep" and decided[CORE].bands == CORE_BANDS
    assert decided["160m"].decision.action == "keep"
    assert decide_sets(before, [candidate(who) for who in "abcdefg"], wider)[CORE].bands == EVERY


def test_core_bands_are_80_to_10_m_as_far_as_nine_in_ten_votes_go():
    plan = [
        Band("160m", 1.8e6, 2e6),
        Band("80m", 3.5e6, 4e6),
        Band("40m", 7e6, 7.3e6),
        Band("10m", 28e6, 29.7e6),
        Band("6m", 50e6, 54e6),
    ]
    assert choose_core_bands(plan, {}, 0) == {"80m", "40m", "10m"}
    votes = {"160m": 20, "80m": 18, "40m": 20, "10m": 17, "6m": 20}
    assert choose_core_bands(plan, votes, 20) == {"80m", "40m"}


class History:
    """A lively design: people join, leave, test again with other bands; the core bands move as well."""

    def __init__(self, seed: int) -> None:
        self.rng = random.Random(seed)
        self.tests: list[Candidate] = []
        self.past: list[PublishedState] = []
        self.shown: list[PublishedSet] = []
        self.serial = itertools.count()

    def measure(self, who: str) -> None:
        n = next(self.serial)
        missing = {band for band in EVERY if self.rng.random() < (0.4 if band == "160m" else 0.06)}
        self.tests.append(candidate(who, EVERY - missing, f"t{n}", n))

    def live(self) -> None:
        for _ in range(self.rng.choice((0, 1, 2, 2, 4))):
            known = sorted({test.contributor for test in self.tests})
            what = self.rng.choice(("join", "join", "again", "leave"))
            if what == "join" or not known:
                self.measure(f"p{next(self.serial)}")
            elif what == "again":
                self.measure(self.rng.choice(known))
            else:
                gone = self.rng.choice(known)
                self.tests = [test for test in self.tests if test.contributor != gone]

    def release(self, number: int) -> None:
        core = EVERY if self.rng.random() < 0.2 else CORE_BANDS
        decided = decide_sets(self.past, self.tests, SetRule(core, DEFAULT_THRESHOLDS))
        for scope, made in decided.items():
            if made.decision.action in ("replace", "withhold"):
                self.past = [
                    PublishedState(s.votes, True, s.open and s.scope != scope, scope=s.scope, bands=s.bands)
                    for s in self.past
                ]
            if made.decision.action == "replace":
                self.past.append(
                    PublishedState(made.decision.votes, True, True, scope=scope, bands=made.bands)
                )
                for band in sorted(made.bands):
                    self.shown.append(PublishedSet(band, f"{band} in {number}", made.decision.votes))

    def check(self) -> None:
        assert audit_publications(self.shown, 3) is None
        for band in EVERY:
            states = [s.votes for s in self.past if band in s.bands]
            assert not given_away(states) and not given_away(states, together=2), band
        for each in self.past:  # a band is in one open set, and all votes of a set are valid on all its bands
            assert len(each.votes) >= 3
        for band in EVERY:
            assert sum(s.open and band in s.bands for s in self.past) <= 1


@pytest.mark.parametrize("seed", range(60))
def test_random_histories_over_several_bands_give_nobody_away(seed: int):
    history = History(seed)
    for number in range(24):
        history.live()
        history.release(number)
    history.check()


def test_the_histories_publish_and_use_sets_of_their_own():
    scopes = set()
    for seed in range(60):
        history = History(seed)
        for number in range(24):
            history.live()
            history.release(number)
        scopes |= {state.scope for state in history.past}
    assert scopes == {CORE, "160m"}
