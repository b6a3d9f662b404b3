"""Which tests vote."""

import random
from datetime import UTC, date, datetime, timedelta

from measurements.disclosure.votes import Candidate, Vote, choose_votes, list_contributors

DAY = date(2026, 3, 1)
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def candidate(who, device, test, day=0, hour=0):
    return Candidate(who, device, test, DAY + timedelta(days=day), NOON + timedelta(hours=hour))


def test_a_device_votes_with_its_newest_test():
    tests = [
        candidate("a", "d", "old", 0, 9),
        candidate("a", "d", "new", 5, 1),
        candidate("a", "d", "mid", 2, 5),
    ]
    assert choose_votes(tests) == {Vote("a", "d", "new")}


def test_of_one_day_the_one_recorded_last_votes():
    tests = [candidate("a", "d", "second", 0, 2), candidate("a", "d", "first", 0, 1)]
    assert choose_votes(tests) == {Vote("a", "d", "second")}


def test_one_contributor_has_three_devices_at_most():
    mine = [candidate("a", f"d{n}", f"t{n}", day=n) for n in range(10)]
    others = [candidate(who, f"d{who}", f"t{who}") for who in "bc"]
    votes = choose_votes(mine + others)
    assert {vote.device for vote in votes if vote.contributor == "a"} == {"d7", "d8", "d9"}
    assert list_contributors(votes) == {"a", "b", "c"}
    assert len(choose_votes(mine, cap=1)) == 1


def test_the_choice_is_the_same_whatever_the_order():
    tests = [
        candidate(who, f"{who}{n}", f"{who}{n}{m}", day=m % 2)
        for who in "abc"
        for n in range(5)
        for m in range(3)
    ]
    expected = choose_votes(tests)
    for seed in range(20):
        random.Random(seed).shuffle(tests)
        assert choose_votes(tests) == expected
    # equally old: the smallest device keys
    assert {vote.device for vote in expected if vote.contributor == "a"} == {"a0", "a1", "a2"}


def test_nobody_tested_nobody_votes():
    assert choose_votes([]) == frozenset()
    assert list_contributors(frozenset()) == frozenset()
