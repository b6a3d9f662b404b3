"""The release rule, case by case. Each letter is one contributor with one device, unless it says more."""

import itertools
from datetime import UTC, date, datetime, timedelta

import pytest

from measurements.disclosure.release_rule import DECISION_REASONS, decide_cell
from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS, Thresholds
from measurements.disclosure.votes import Candidate, Vote

DAY = date(2026, 1, 1)
NOON = datetime(2026, 1, 1, 12, tzinfo=UTC)


def state(people, retested="", device=1):
    """One vote for each letter; letters of `retested` vote with their second test."""
    return frozenset(
        Vote(who, f"{who}{device}", f"{who}{device}.{2 if who in retested else 1}") for who in people
    )


def candidates(people, retested=""):
    """The first test of each letter, and the second of those in `retested`."""
    rounds = [(who, 1) for who in people] + [(who, 2) for who in retested]
    return [
        Candidate(who, f"{who}1", f"{who}1.{number}", DAY + timedelta(days=number), NOON)
        for who, number in rounds
    ]


def decide(past, now, published=True, thresholds=DEFAULT_THRESHOLDS):
    """next_cell over past states; `now` is a word of letters or a list of candidates."""
    states = [state(one) if isinstance(one, str) else one for one in past]
    tests = candidates(now) if isinstance(now, str) else now
    return decide_cell(states[-1] if published and states else None, states, tests, thresholds)


# (past states, who can vote now, is the last state published, action, reason)
CASES = [
    ([], "", True, "empty", "too_few_contributors"),
    ([], "ab", True, "empty", "too_few_contributors"),
    ([], "abc", True, "replace", "first_publication"),
    (["abc"], "abc", True, "keep", "unchanged"),
    (["abc"], "abcd", True, "keep", "too_few_joiners"),
    (["abc"], "abcde", True, "keep", "too_few_joiners"),
    (["abc"], "abcdef", True, "replace", "enough_joiners"),
    # one leaves: what was published stays until the next renewal, and the leaver is in nothing new
    (["abcd"], "abc", True, "keep", "too_few_joiners"),
    (["abcd"], "abcefg", True, "replace", "enough_joiners"),
    (["abc"], "ab", True, "keep", "too_few_contributors"),
    (["abc"], "", True, "keep", "too_few_contributors"),
    # withheld before: an earlier state, vote for vote, may come back, its part may not
    (["abcd"], "abcd", False, "replace", "published_again"),
    (["abcd"], "abc", False, "withhold", "too_few_joiners"),
    (["abc", "abcdef"], "abc", False, "replace", "published_again"),
    # who was published before is no joiner, however long ago
    (["abc", "abcdef"], "abcg", True, "keep", "too_few_joiners"),
    (["abc", "defabc"], "abcgh", False, "withhold", "too_few_joiners"),
    (["abc", "abcdef"], "defghi", True, "replace", "enough_joiners"),
]


@pytest.mark.parametrize(("past", "now", "published", "action", "reason"), CASES)
def test_each_case(past, now, published, action, reason):
    got = decide(past, now, published)
    assert (got.action, got.reason) == (action, reason)
    expected = {"replace": state(now), "keep": state(past[-1]) if past else None}
    assert got.votes == expected.get(action, frozenset())


def test_every_reason_is_met_above_and_says_what_happens():
    assert {case[4] for case in CASES} == set(DECISION_REASONS)
    assert all(sentence.endswith(".") for sentence in DECISION_REASONS.values())


def test_testing_again_does_not_change_a_cell_but_comes_along():
    kept = decide(["abc"], candidates("abc", retested="abc"))
    assert (kept.action, kept.votes) == ("keep", state("abc"))
    came = decide(["abc"], candidates("abcdef", retested="a"))
    assert (came.action, came.votes) == ("replace", state("abcdef", retested="a"))


def test_one_account_that_toggles_is_never_a_joiner():
    """a withdraws and uploads in turn while one newcomer at a time joins: nothing is ever published anew."""
    past, now = ["abc"], "abc"
    for newcomer in "de":
        now += newcomer
        assert decide(past, now).action == "keep"
        assert decide(past, now.replace("a", "")).action == "keep"
        assert decide(past, candidates(now, retested="a")).action == "keep"


def test_a_test_excluded_for_cause_is_in_nothing_new():
    """The state without it may not be published either, so the cell is withheld until three join."""
    got = decide_cell(
        state("abcd"), [state("abcd")], candidates("abc"), DEFAULT_THRESHOLDS, excluded=["d1.1"]
    )
    assert (got.action, got.reason) == ("withhold", "too_few_joiners")
    later = decide(["abcd"], "abcefg", published=False)
    assert later.votes == state("abcefg")


def test_a_state_ends_with_its_life_for_everybody():
    """One of four left: their state is not published again, and the three alone may not be."""
    got = decide_cell(state("abcd"), [state("abcd")], candidates("abc"), DEFAULT_THRESHOLDS, expired=True)
    assert got.action == "withhold"
    whole = decide_cell(state("abcd"), [state("abcd")], candidates("abcd"), DEFAULT_THRESHOLDS, expired=True)
    assert (whole.action, whole.reason) == ("replace", "published_again")


def test_a_device_that_changes_hands_is_not_two_people():
    """c's device goes to d while e and f join: by name three join, by figures only two are new."""
    handed = [*candidates("abef"), Candidate("d", "c1", "c1.1", DAY, NOON)]
    got = decide(["abc"], handed)
    assert (got.action, got.reason) == ("keep", "too_few_joiners")
    assert decide(["abc"], [*handed, *candidates("g")]).action == "replace"


def test_a_cap_of_votes_holds_in_what_is_published():
    mine = [Candidate("a", f"a{n}", f"a{n}.1", DAY + timedelta(days=n), NOON) for n in range(9)]
    got = decide([], [*mine, *candidates("bc")])
    assert sum(vote.contributor == "a" for vote in got.votes) == 3


def test_devices_do_not_make_a_threshold():
    mine = [Candidate(who, f"{who}{n}", f"{who}{n}.1", DAY, NOON) for who in "ab" for n in range(3)]
    assert decide([], mine).action == "empty"


def test_a_raised_threshold_holds_for_what_is_published_next():
    strict = Thresholds(min_contributors=7, public_min_contributors=7)
    got = decide(["abc"], "abcdef", thresholds=strict)
    assert (got.action, got.reason) == ("withhold", "too_few_contributors")
    assert decide(["abc"], "abcdefg", thresholds=strict).action == "replace"


def test_a_higher_min_joiners():
    four = Thresholds(min_joiners=4)
    assert decide(["abcd"], "abcdefg", thresholds=four).action == "keep"
    assert decide(["abcd"], "abcdefgh", thresholds=four).action == "replace"


def test_a_ledger_that_contradicts_itself_is_refused():
    with pytest.raises(ValueError, match="last one"):
        decide_cell(state("abc"), [state("abd")], candidates("abc"), DEFAULT_THRESHOLDS)
    with pytest.raises(ValueError, match="last one"):
        decide_cell(state("abc"), [], candidates("abc"), DEFAULT_THRESHOLDS)


def test_over_all_small_histories_no_combination_touches_fewer_than_three():
    """Exhaustive: three states over seven people, by set arithmetic that knows nothing of the rule's code."""
    words = ["".join(word) for size in range(3, 8) for word in itertools.combinations("abcdefg", size)]
    published = 0
    for first, second in itertools.product(("abc", "abcd"), words):
        states = [state(first)]
        got = decide(states, second)
        if got.action == "replace":
            states.append(got.votes)
        for third in words[::3]:
            last = decide(states, third)
            if last.action != "replace":
                continue
            published += 1
            for one, other in itertools.combinations([*states, last.votes], 2):
                assert len({vote.contributor for vote in one ^ other}) not in (1, 2)
    assert published > 50
