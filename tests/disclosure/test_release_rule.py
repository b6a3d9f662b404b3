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
    (["abc"], "abcd", True, "keep", "too_few_changes"),
    (["abc"], "abcde", True, "replace", "enough_changes"),
    # one withdraws: what is gone is gone, and nothing may stand in its place yet
    (["abcd"], "abc", True, "withhold", "too_few_changes"),
    (["abcd"], "abc", False, "withhold", "too_few_changes"),
    (["abcd"], "abce", True, "replace", "enough_changes"),
    (["abcde"], "abc", True, "replace", "enough_changes"),
    (["abc"], "ab", True, "withhold", "too_few_contributors"),
    (["abc"], "", True, "withhold", "too_few_contributors"),
    # the very same state again
    (["abcd"], "abcd", False, "replace", "published_again"),
    # published abc, then abcde: whoever kept the first release must not get one figure from the third
    (["abc", "abcde"], "abcd", True, "withhold", "too_few_changes"),
    (["abc", "abcde"], "abcdf", True, "replace", "enough_changes"),
    (["abc", "abcde"], "abcf", True, "withhold", "near_an_earlier_state"),
    (["abc", "abcde"], "abcf", False, "withhold", "near_an_earlier_state"),
    (["abc", "abcde"], "abcfg", True, "replace", "enough_changes"),
    # back to an earlier state, figure for figure, adds nothing
    (["abc", "abcde"], "abc", True, "replace", "enough_changes"),
    # no two states differ by one person, but second minus first is d and e, and def minus that is f
    (["abc", "abcde"], "def", True, "withhold", "combination_of_states"),
    (["abc", "abcde"], "defg", True, "replace", "enough_changes"),
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
    kept = decide(["abc"], candidates("abc", retested="ab"))
    assert (kept.action, kept.votes) == ("keep", state("abc"))
    came = decide(["abc"], candidates("abcde", retested="a"))
    assert (came.action, came.votes) == ("replace", state("abcde", retested="a"))


def test_a_withdrawn_test_is_not_replaced_by_the_devices_older_one_alone():
    """The published second test of a is withdrawn; its first is there still: one person's change."""
    published = state("abc", retested="a")
    got = decide([published], candidates("abc"))
    assert (got.action, got.reason, got.votes) == ("withhold", "too_few_changes", frozenset())
    later = decide([published], candidates("abcde"), published=False)
    assert (later.action, later.votes) == ("replace", state("abcde"))


def test_one_persons_retest_does_not_slip_in_against_an_earlier_state():
    """abc, then abcde; d and e leave and a tested again: only a differs from the first state."""
    got = decide(["abc", "abcde"], candidates("abc", retested="a"))
    assert (got.action, got.reason) == ("withhold", "near_an_earlier_state")
    both = decide(["abc", "abcde"], candidates("abc", retested="ab"))
    assert both.action == "replace"


def test_a_device_that_changes_hands_is_not_two_people():
    """c's device goes to d, and e joins: by name c left, d and e joined; by figures only e's is new."""
    handed = [*candidates("abe"), Candidate("d", "c1", "c1.1", DAY, NOON)]
    got = decide(["abc"], handed)
    assert (got.action, got.reason) == ("keep", "too_few_changes")
    assert decide(["abc"], [*handed, *candidates("f")]).action == "replace"


def test_a_former_owner_is_not_a_second_person_either():
    """c had two devices, one went to d; both devices leave: c's figures alone would differ."""
    two = state("abc") | {Vote("c", "c2", "c2.1")} | state("xy")
    later = state("abcxy") - {Vote("c", "c1", "c1.1")} | {Vote("d", "c2", "c2.1")}
    got = decide([two, later], candidates("abxy"))
    assert (got.action, got.reason) == ("withhold", "too_few_changes")


def test_a_cap_of_votes_holds_in_what_is_published():
    mine = [Candidate("a", f"a{n}", f"a{n}.1", DAY + timedelta(days=n), NOON) for n in range(9)]
    got = decide([], [*mine, *candidates("bc")])
    assert sum(vote.contributor == "a" for vote in got.votes) == 3


def test_devices_do_not_make_a_threshold():
    mine = [Candidate(who, f"{who}{n}", f"{who}{n}.1", DAY, NOON) for who in "ab" for n in range(3)]
    assert decide([], mine).action == "empty"


def test_a_raised_threshold_withholds_what_no_longer_reaches_it():
    strict = Thresholds(min_contributors=4)
    assert decide(["abc"], "abc", thresholds=strict).action == "withhold"
    assert decide(["abc"], "abcd", thresholds=strict).action == "withhold"
    assert decide(["abc"], "abcde", thresholds=strict).action == "replace"


def test_a_higher_min_changes():
    three = Thresholds(min_changes=3)
    assert decide(["abcd"], "abcdef", thresholds=three).action == "keep"
    assert decide(["abcd"], "abcdefg", thresholds=three).action == "replace"


def test_with_one_change_enough_the_cell_follows_everybody():
    one = Thresholds(min_changes=1)
    assert decide(["abc"], "abcd", thresholds=one).action == "replace"
    assert decide(["abcd"], "abc", thresholds=one).action == "replace"
    assert decide(["abc"], candidates("abc", retested="a"), thresholds=one).action == "keep"


def test_a_history_made_under_weaker_thresholds_does_not_block_for_ever():
    """abc and abcd gave d away; e and f may join all the same, e alone with d's figure may not."""
    assert decide(["abc", "abcd"], "abcdef").action == "replace"
    assert decide(["abc", "abcd"], "abde", published=True).reason == "enough_changes"
    assert decide(["abc", "abcd"], "abce", published=True).reason == "near_an_earlier_state"


def test_a_ledger_that_contradicts_itself_is_refused():
    with pytest.raises(ValueError, match="last one"):
        decide_cell(state("abc"), [state("abd")], candidates("abc"), DEFAULT_THRESHOLDS)
    with pytest.raises(ValueError, match="last one"):
        decide_cell(state("abc"), [], candidates("abc"), DEFAULT_THRESHOLDS)


def test_over_all_small_histories_no_pair_differs_by_one_person():
    """Exhaustive: three states over six people, by set arithmetic that knows nothing of the rule's code."""
    words = ["".join(w) for n in range(3, 7) for w in itertools.combinations("abcdef", n)]
    published = 0
    # The first state may be any; which letters it has makes no difference, only how many.
    for first, second, third in itertools.product(("abc", "abcd", "abcde", "abcdef"), words, words):
        history = [first]
        for word in (second, third):
            if decide(history, word).action == "replace":
                history.append(word)
        published += len(history) - 1
        for one, other in itertools.combinations(history, 2):
            assert len(set(one) ^ set(other)) != 1
    assert published > 1000
