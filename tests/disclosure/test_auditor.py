"""The auditor passes what the rule allows and names the first set that breaks it."""

from __future__ import annotations

import time

import pytest

from measurements.disclosure.auditor import PublishedSet, audit_publications
from measurements.disclosure.votes import Vote


def votes(people: str, retested: str = "") -> frozenset[Vote]:
    return frozenset(Vote(who, f"d-{who}", f"t-{who}{2 if who in retested else ''}") for who in people)


def publish(*sets: str | frozenset[Vote], quantity: str = "design") -> list[PublishedSet]:
    return [
        PublishedSet(quantity, f"release {n}", votes(each) if isinstance(each, str) else each)
        for n, each in enumerate(sets, 1)
    ]


@pytest.mark.parametrize(
    "words",
    [
        ("abc",),
        ("abc", "abc"),
        ("abc", "abcdef"),
        ("abc", "defghi", "abc"),
        # a family: two designs' sets together, nobody else
        ("abc", "def", "abcdef"),
        ("abcdef", "ghi", "jkl", "ghijklabcdef"),
    ],
)
def test_what_the_rule_allows_passes(words: tuple[str, ...]):
    assert audit_publications(publish(*words), 3) is None


@pytest.mark.parametrize(
    ("words", "offender", "joiners"),
    [
        (("ab",), "release 1", 2),
        (("abc", "abcd"), "release 2", 1),
        (("abcd", "abc"), "release 2", 0),
        (("abc", "abcde"), "release 2", 2),
        (("abc", "abcdef", "abcdefg", "hij"), "release 3", 1),
        # a union that is not disjoint gives the shared one away
        (("abc", "cdefg", "abcdefg"), "release 3", 0),
    ],
)
def test_the_first_offender_is_named(words: tuple[str, ...], offender: str, joiners: int):
    found = audit_publications(publish(*words), 3)
    assert (found.what, found.joiners) == (offender, joiners)


def test_a_retest_and_a_handed_device_make_nobody_new():
    again = audit_publications(publish("abc", votes("abc", retested="abc")), 3)
    assert again.joiners == 0
    handed = frozenset({Vote("d", "d-c", "t-c"), *votes("abef")})
    assert audit_publications(publish("abc", handed), 3).joiners == 2


def test_whoever_holds_a_device_that_voted_without_a_name_is_nobody_new():
    """Three guests whom nobody had confirmed stood there as one; each claimed a device since."""
    unnamed = frozenset(Vote("unconfirmed", f"d-{who}", f"t-{who}") for who in "xyz") | votes("ab")
    later = votes("ab") | {Vote(who, f"new-{who}", f"t2-{who}") for who in "xyz"}
    assert audit_publications(publish(unnamed, later), 3) is None
    holders = {f"d-{who}": who for who in "xyz"}
    assert audit_publications(publish(unnamed, later), 3, holders).joiners == 0


def test_a_family_is_made_of_published_sets_and_of_nothing_else():
    designs = [
        PublishedSet("one", "one", votes("abc"), figure="40m"),
        PublishedSet("other", "other", votes("def"), figure="40m"),
    ]
    together = PublishedSet("family", "family", votes("abcdef"), figure="40m", composed=True)
    assert audit_publications([*designs, together], 3) is None
    for people, figure in (("abcde", "40m"), ("abcdefghi", "40m"), ("abcdef", "20m")):
        wrong = PublishedSet("family", "family", votes(people), figure=figure, composed=True)
        assert audit_publications([*designs, wrong], 3).what == "family"


def test_designs_that_share_no_past_do_not_count_for_each_other():
    """Who is published in one design joins another like anybody else: their votes have nothing in common."""
    there = [PublishedSet("another", "release 2 of another", votes("abc", retested="abc"))]
    assert audit_publications([*publish("abc"), *there], 3) is None


def test_time_grows_with_votes_not_with_their_square():
    """10,000 votes in 500 sets: each vote is looked at a bounded number of times (counted, not timed)."""
    sets = []
    for number in range(500):
        people = [f"p{number * 20 + n}" for n in range(20)]
        sets.append(
            PublishedSet(f"design {number}", "release 1", frozenset(Vote(who, who, who) for who in people))
        )
    looked = 0

    class Counted(list):
        def __iter__(self):
            nonlocal looked
            for each in super().__iter__():
                looked += len(each.votes)
                yield each

    assert audit_publications(Counted(sets), 3) is None
    assert looked == 10_000


def test_ten_thousand_tests_are_audited_in_one_pass():
    """500 designs of 20 persons, each renewed four times, 10 bands and all together, families of five.

    Printed with `-s`: the time of the processor. The test above counts what it looks at.
    """
    bands = [f"band {n}" for n in range(10)]
    sets, whole = [], []
    for stage in (5, 10, 15, 20):
        for design in range(500):
            keys = (f"{design}-{n}" for n in range(stage))
            each = frozenset(Vote(f"p{key}", f"d{key}", f"t{key}") for key in keys)
            whole += [each] if stage == 20 else []
            for band in (*bands, "together"):
                what = f"design {design} on {band}"
                sets.append(PublishedSet(what, what, each, stage == 20, figure=band))
    for first in range(0, 500, 5):
        pooled = frozenset().union(*whole[first : first + 5])
        sets += [PublishedSet("family", "family", pooled, figure=band, composed=True) for band in bands]
    begun = time.process_time()
    assert audit_publications(sets, 3) is None
    votes = sum(len(each.votes) for each in sets)
    print(f"{len(sets)} sets with {votes} votes of 10,000 tests: {time.process_time() - begun:.1f} s")
