"""Which designs a release has to decide about again, found without reading their tests.

A decision rests on a design's candidates, on what was published of it and of the designs that it shares a
past with, and on the thresholds. What was published changes with releases only, so a design that is alone and
whose candidates have the same fingerprint as at its last decision, under the same thresholds, has the same
outcome. Designs that share a past are few and are always decided.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from django.db.models import Count, F, Max, Min, OuterRef, QuerySet, Subquery, Sum

from measurements.disclosure.merged_designs import sharing_a_past
from measurements.disclosure.releases import Action
from measurements.disclosure.thresholds import Thresholds
from measurements.models import Cell, DecisionMark, Design, PublishedVote, Result, Test

# primes near 2**31: sums of remainders tell sets of rows apart, and a square of one fits a bigint
_FIRST, _SECOND = 2147483629, 2147483587
# what is decided the next time, when nothing has changed since
_AGAIN: dict[str, Action] = {"replace": "keep", "keep": "keep", "withhold": "withhold", "empty": "empty"}
BATCH = 500


@dataclass(frozen=True)
class Plan:
    """groups: designs to decide about, those that share a past together. settled: what the others are.

    merged: design -> the one it was merged into. marks: fingerprint of every design as it is now.
    """

    groups: list[list[int]]
    settled: dict[int, Action]
    merged: dict[int, int]
    marks: dict[int, str]


def plan(limits: Thresholds) -> Plan:
    """Compares every design's candidates with those at its last decision, in a few queries."""
    merged = dict(Design.objects.exclude(merged_into=None).values_list("pk", "merged_into"))
    marks = dict(_marks(limits))
    earlier = {row[0]: row[1:] for row in DecisionMark.objects.values_list("design_id", "mark", "action")}
    published = set(Cell.objects.values_list("design_id", flat=True).distinct())
    everything = marks.keys() | earlier.keys() | published
    changed = {key for key in everything if key not in earlier or earlier[key][0] != marks.get(key, "")}
    # belt and braces: whatever a fingerprint says, a published vote whose test is gone is looked at
    changed |= _with_votes_gone()
    together = sharing_a_past(_shared_tests(), merged)
    groups = [*together, *([key] for key in sorted(changed - {key for group in together for key in group}))]
    decided = {key for group in groups for key in group}
    settled = {key: _AGAIN[earlier[key][1]] for key in everything - decided}
    return Plan(groups, settled, merged, marks)


def remember(actions: dict[int, Action], marks: dict[int, str]) -> None:
    """Keeps what was decided under which fingerprint. Call inside the release's transaction."""
    stored = {row[0]: row[1:] for row in DecisionMark.objects.values_list("design_id", "mark", "action")}
    new = [
        DecisionMark(design_id=key, mark=marks.get(key, ""), action=action)
        for key, action in sorted(actions.items())
        if stored.get(key) != (marks.get(key, ""), action)
    ]
    DecisionMark.objects.bulk_create(
        new,
        batch_size=BATCH,
        update_conflicts=True,
        unique_fields=["design"],
        update_fields=["mark", "action"],
    )


def standing() -> QuerySet[Result]:
    """The results whose tests could vote now."""
    return Result.objects.filter(current=True, counts_as_evidence=True, test__excluded_reason="")


def _marks(limits: Thresholds) -> Iterator[tuple[int, str]]:
    """(design, fingerprint) over the row numbers of results, tests, devices and contributors."""
    row = (
        F("id") * 7919
        + F("test_id") * 104729
        + F("test__device_id") * 1299709
        + F("test__device__contributor_id") * 15485863
    ) % _FIRST
    under = f"{limits.min_contributors} {limits.min_changes} {limits.votes_per_contributor}"
    grouped = standing().values("test__device__design_id").order_by()
    sums = grouped.annotate(n=Count("id"), one=Sum(row), two=Sum(row * row % _SECOND))
    for key, *figures in sums.values_list("test__device__design_id", "n", "one", "two"):
        yield key, f"{under}: {' '.join(str(int(figure)) for figure in figures)}"


def _with_votes_gone() -> set[int]:
    votes = PublishedVote.objects.filter(cell__last_release=None)
    gone = votes.without_test()
    return set(gone.values_list("cell__design_id", flat=True).distinct())


def _shared_tests() -> dict[int, list[str]]:
    """Designs that ever shared a test, each with the tests that it shares; the others are left out."""
    now_of = Test.objects.filter(key=OuterRef("test_key")).values("device__design_id")[:1]
    moved = PublishedVote.objects.annotate(now_of=Subquery(now_of)).exclude(now_of=F("cell__design_id"))
    found: dict[int, list[str]] = defaultdict(list)
    for test, then, now in moved.values_list("test_key", "cell__design_id", "now_of").distinct():
        found[then].append(test)
        if now is not None:
            found[now].append(test)
    spread = PublishedVote.objects.values("test_key").order_by()
    spread = spread.annotate(low=Min("cell__design_id"), high=Max("cell__design_id")).exclude(low=F("high"))
    keys = list(spread.values_list("test_key", flat=True))
    for start in range(0, len(keys), BATCH):
        votes = PublishedVote.objects.filter(test_key__in=keys[start : start + BATCH])
        for test, design in votes.values_list("test_key", "cell__design_id").distinct():
            found[design].append(test)
    return found
