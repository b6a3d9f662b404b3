"""The rule of pooled evidence, its auditor, and random histories of clubs that publish alone and together."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.disclosure.pooled_auditor import PooledSet, audit_pool
from measurements.disclosure.pooled_rule import (
    PooledDecision,
    PooledPast,
    PooledState,
    decide_pooled,
    name_in_pool,
    weigh_groups,
)
from measurements.disclosure.pooled_sending import (
    build_home_past,
    choose_sending,
    class_uncertainty,
    is_of_pool,
)
from measurements.disclosure.release_rule import decide_cell
from measurements.disclosure.votes import Candidate, Vote
from tests.disclosure import pool_worlds
from tests.disclosure.pool_worlds import LIMITS, NOON


def votes(text: str) -> frozenset[Vote]:
    """The votes of "a123 b1": persons 1, 2 and 3 of group a, and 1 of group b, with a device each."""
    return frozenset(
        name_in_pool(word[0], Vote(who, f"d{who}", f"t{who}")) for word in text.split() for who in word[1:]
    )


def decide(wanted: str, *states: str, alone: tuple[str, ...] = (), **more):
    made = [PooledState(votes(text), weigh_groups(count(text))) for text in states]
    past = PooledPast(made, [votes(text) for text in alone], made[-1] if made else None)
    return decide_pooled(past, votes(wanted), LIMITS, **more)


def count(text: str) -> dict[str, int]:
    return {word[0]: len(word) - 1 for word in text.split()}


@pytest.mark.parametrize(
    ("wanted", "states", "alone", "action", "reason"),
    [
        ("a12345 b1", (), (), "empty", "too_few_groups"),
        ("a1 b1 c1", (), (), "replace", "enough_joiners"),
        ("a1 b1 c1", ("a1 b1 c1",), (), "keep", "unchanged"),
        # one or two who join could be read by whoever knows the rest
        ("a12 b12 c1", ("a1 b1 c1",), (), "keep", "too_few_joiners"),
        ("a12 b12 c12", ("a1 b1 c1",), (), "replace", "enough_joiners"),
        ("a1234 b1 c1", ("a1 b1 c1",), (), "replace", "enough_joiners"),
        # the others must stand as before, or the joining group's stewards read the difference
        ("a1234 b12 c1", ("a1 b1 c1",), (), "replace", "enough_joiners"),
        ("a1234 b1234 c1", ("a1 b1 c1",), (), "replace", "enough_joiners"),
        ("a1 b1", ("a1 b1 c1",), (), "keep", "too_few_groups"),
        # who was published alone joins nothing
        ("a123 b1 c1", (), ("a123",), "empty", "too_few_joiners"),
        ("a123 b1 c1 d1", (), ("a123",), "replace", "enough_joiners"),
        ("a123 b123 c123", (), ("a123", "b123", "c123"), "replace", "made_of_published_sets"),
        ("a123 b123 c1234", (), ("a123", "b123", "c123"), "empty", "too_few_groups"),
    ],
)
def test_a_pooled_design_changes_only_by_the_rule(wanted, states, alone, action, reason):
    made = decide(wanted, *states, alone=alone)
    assert (made.action, made.reason) == (action, reason)


def test_a_group_that_publishes_alone_comes_with_its_own_set_or_not_at_all():
    made = decide("a1234 b1 c1 d1", alone=("a123",))
    assert made.state.votes == votes("b1 c1 d1")


def test_two_who_join_from_one_group_wait_while_other_groups_are_brought_up_to_date():
    made = decide("a1234 b12 c1", "a1 b1 c1")
    assert made.state.votes == votes("a1234 b1 c1")
    assert made.state.weights == {"a": 1.0, "b": 1.0, "c": 1.0}


def test_nothing_new_holds_a_vote_that_was_withdrawn():
    """b1 left: the three who join group a must wait, although all others would be as before."""
    made = decide("a1234 c1", "a1 b1 c1")
    assert (made.action, made.state.votes) == ("keep", votes("a1 b1 c1"))


def test_a_group_that_is_set_aside_ends_what_it_is_in():
    assert decide("a1 b1 c1", "a1 b1 c1", aside={"a"}).action == "withhold"
    made = decide("a1 b12 c12 d12", "a1 b1 c1", aside={"a"})
    assert made.state.votes == votes("b12 c12 d12")


def test_a_withdrawn_vote_stays_in_what_was_published_until_it_ends():
    assert decide("b1 c1 d1", "a1 b1 c1").state.votes == votes("a1 b1 c1")
    assert decide("b1 c1", "a1 b1 c1", expired=True).action == "withhold"


def test_the_published_state_must_be_of_the_past():
    with pytest.raises(ValueError, match="past"):
        decide_pooled(PooledPast((), (), PooledState(votes("a1 b1 c1"), {})), votes("a1"), LIMITS)


@given(st.dictionaries(st.text("abcdefgh", min_size=1), st.integers(1, 60), min_size=3))
def test_no_group_counts_for_more_than_a_third_and_no_weight_is_lost_without_need(persons):
    weights = weigh_groups(persons)
    total = sum(weights.values())
    assert max(weights.values()) <= total / 3 * (1 + 1e-9)
    capped = [group for group in persons if weights[group] < persons[group]]
    # whoever counts for less than its persons counts for a third, or as much as the largest that does
    assert all(weights[group] == max(weights.values()) for group in capped)
    assert not capped or max(weights.values()) >= total / 3 * (1 - 1e-9)


@pytest.mark.parametrize(
    ("persons", "expected"),
    [
        ({"a": 5, "b": 1, "c": 1}, {"a": 1, "b": 1, "c": 1}),
        ({"a": 9, "b": 4, "c": 2, "d": 2}, {"a": 4, "b": 4, "c": 2, "d": 2}),
        ({"a": 2, "b": 2, "c": 2}, {"a": 2, "b": 2, "c": 2}),
    ],
)
def test_weights_worked_by_hand(persons, expected):
    assert weigh_groups(persons) == expected


def test_two_groups_have_no_weights():
    with pytest.raises(ValueError, match="three groups"):
        weigh_groups({"a": 3, "b": 4, "c": 0})


# What a group sends.


def test_a_group_sends_its_published_set_or_nothing_of_it():
    def send(people, taking_part, alone=(), published=None):
        tests = [Candidate(who, f"d{who}", f"t{who}", NOON.date(), NOON) for who in people]
        return choose_sending(alone, published, tests, set(taking_part))

    a, b, c = (Vote(who, f"d{who}", f"t{who}") for who in "abc")
    abc = frozenset({a, b, c})
    assert send("ab", "a") == {a}
    assert send("abcd", "abcd", [abc], abc) == abc
    assert not send("abc", "ab", [abc], abc)
    assert not send("ab", "abcd", [abc], abc)
    assert not send("abcd", "abcd", [abc])


def test_a_retest_does_not_change_what_is_sent_of_a_published_set():
    old = [Candidate(who, f"d{who}", f"t{who}", NOON.date(), NOON) for who in "abc"]
    abc = frozenset(each.vote for each in old)
    again = Candidate("a", "da", "t-new", NOON.date(), NOON + timedelta(days=1))
    assert choose_sending([abc], abc, [*old, again], set("abc")) == abc


def test_whoever_was_sent_joins_nothing_at_home():
    pooled = build_home_past(Vote(who, f"d{who}", f"t{who}") for who in "abc")
    assert is_of_pool(pooled)

    def release(people):
        tests = [Candidate(who, f"d{who}", f"t{who}", NOON.date(), NOON) for who in people]
        return decide_cell(None, [pooled], tests, LIMITS).action

    # the very set that was sent is not "published again": the pool showed it among others' votes only
    assert release("abc") == "withhold"
    assert release("abcde") == "withhold"
    assert release("abcdef") == "replace"


@pytest.mark.parametrize(
    ("u", "kind", "expected"),
    [
        (0.5, "common_mode", "quarter"),
        (0.6, "common_mode", "half"),
        (2.0, "common_mode", "whole"),
        (0.25, "insertion_loss", "whole"),
        (0.03, "load_match", "quarter"),
    ],
)
def test_an_uncertainty_leaves_as_one_of_three_classes(u, kind, expected):
    assert class_uncertainty(u, kind) == expected


@pytest.mark.parametrize("u", [2.1, -0.1, float("nan")])
def test_a_figure_too_uncertain_to_vote_has_no_class(u):
    with pytest.raises(ValueError, match="does not vote"):
        class_uncertainty(u, "common_mode")


# The auditor, and what all publications together give away.


def audit(world: pool_worlds.PoolWorld):
    return audit_pool(
        [
            PooledSet("design", f"set {n}", own, group=group, weights=tuple(sorted(weights.items())))
            for n, (group, own, weights) in enumerate(world.order)
        ],
        LIMITS.min_joiners,
    )


def check(world: pool_worlds.PoolWorld) -> None:
    assert audit(world) is None
    # nobody, knowing nothing, reads one or two; nobody who knows a whole club reads one of another
    assert not world.list_given_away("", 1)
    assert not world.list_given_away("", 2)
    for club in world.clubs:
        assert not world.list_given_away(club.name, 1)


@pytest.mark.parametrize("seed", range(40))
def test_random_histories_give_nobody_away(seed):
    check(pool_worlds.play(seed))


@pytest.mark.long
@pytest.mark.parametrize("block", range(10))
def test_many_random_histories_give_nobody_away(block):
    pooled = 0
    for seed in range(1000 + block * 100, 1100 + block * 100):
        world = pool_worlds.play(seed, steps=100)
        check(world)
        pooled += len(world.states)
    assert pooled > 100


@given(st.integers(0, 10**6), st.integers(20, 70))
def test_no_history_gives_anybody_away(seed, steps):
    check(pool_worlds.play(seed, steps=steps))


def test_pooled_evidence_does_get_published():
    """A rule that publishes nothing would pass everything above."""
    worlds = [pool_worlds.play(seed, steps=100) for seed in range(20)]
    assert sum(len(world.states) for world in worlds) >= 25
    assert sum(1 for world in worlds if len(world.states) > 1) >= 8


def publish_whatever_is_sent(past, candidates, thresholds, aside=(), **_more):
    parts = {group: own for group, own in count_votes(candidates).items() if group not in aside}
    if len(parts) < 3:
        return PooledDecision("withhold", None, "too_few_groups")
    state = PooledState(
        frozenset().union(*parts.values()), weigh_groups({g: len(v) for g, v in parts.items()})
    )
    return PooledDecision("replace", state, "enough_joiners")


def count_votes(wanted):
    found = {}
    for vote in wanted:
        found.setdefault(vote.contributor.split(":")[0], set()).add(vote)
    return found


def test_auditor_and_checks_find_a_careless_keeper_and_careless_clubs_out():
    by_auditor = by_algebra = 0
    for seed in range(30):
        world = pool_worlds.play(seed, decide=publish_whatever_is_sent, careless=True)
        by_auditor += audit(world) is not None
        by_algebra += bool(world.list_given_away("", 1))
    assert by_auditor >= 20 and by_algebra >= 5


def pooled(text: str, what: str, **weights: float) -> PooledSet:
    given = weights or weigh_groups(count(text))
    return PooledSet("design", what, votes(text), weights=tuple(sorted(given.items())))


def alone(text: str) -> PooledSet:
    return PooledSet("design", f"alone {text}", votes(text), group=text[0])


@pytest.mark.parametrize(
    ("sets", "offender"),
    [
        ([pooled("a1 b1", "two groups", a=1.0, b=1.0)], "two groups"),
        ([pooled("a12 b1 c1", "heavy", a=2.0, b=1.0, c=1.0)], "heavy"),
        ([pooled("a1 b1 c1", "one"), pooled("a12 b12 c1", "two joiners")], "two joiners"),
        ([pooled("a1 b1 c1", "one"), pooled("b1 c1 d1", "one instead of another")], "one instead"),
        ([alone("a123"), pooled("a12 b1 c1 d1", "part of a set")], "part of a set"),
        ([alone("a123"), pooled("a123 b1 c1", "two beside a set")], "two beside"),
        (
            [pooled("a1 b1 c1", "one"), pooled("a1234 b2 c1", "another b", a=1.0, b=1.0, c=1.0)],
            "another b",
        ),
        (
            [pooled("a12 b1 c1", "one"), pooled("a12 b1 c1", "reweighed", a=0.9, b=1.0, c=1.0)],
            "reweighed",
        ),
    ],
)
def test_the_auditor_names_the_offender(sets, offender):
    assert audit_pool(sets, 3).what.startswith(offender)


def test_the_auditor_passes_what_the_rule_allows():
    fine = [
        alone("a123"),
        pooled("a123 b1 c1 d1", "first"),
        PooledSet("another", "another", votes("x1 y1"), judged=False),
        pooled("a123 b12 c12 d12", "second"),
        pooled("a123 b1 c1 d1", "first again"),
    ]
    assert audit_pool(fine, 3) is None
