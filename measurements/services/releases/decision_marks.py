"""Which designs a release has to decide about again, found without reading their tests.

A decision rests on a design's candidates, on what was published of it and of the designs that it shares a
past with, and on the thresholds. What was published changes with releases only, so a design that is alone and
whose candidates have the same fingerprint as at its last decision, under the same thresholds, has the same
outcome. Fingerprints are asked for of what was noted as changed (`evidence_changes`), or of everything.
Designs that share a past are few and are always decided.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from django.db.models import Count, Exists, F, Max, Min, OuterRef, Q, QuerySet, Subquery, Sum

from measurements.disclosure.merged_designs import group_by_shared_past
from measurements.disclosure.release_rule import CellAction
from measurements.disclosure.thresholds import Thresholds
from measurements.models import Cell, DecisionMark, Design, MovedDevice, PublishedVote, Result, Test
from measurements.services.releases.evidence_changes import EVERYTHING, EvidenceChanges

# primes near 2**31: sums of remainders tell sets of rows apart, and a square of one fits a bigint
_FIRST, _SECOND = 2147483629, 2147483587
# what is decided the next time, when nothing has changed since
_ACTION_WHEN_UNCHANGED: dict[str, CellAction] = {
    "replace": "keep",
    "keep": "keep",
    "withhold": "withhold",
    "empty": "empty",
}
BATCH = 500
ALL = Q()


@dataclass(frozen=True)
class DecisionPlan:
    """groups: designs to decide about, those that share a past together. settled: what the others are.

    merged: design -> the one it was merged into. marks: fingerprint of every design as it is now.
    moved: keys of the devices that designs share a past by.
    """

    groups: list[list[int]]
    settled: dict[int, CellAction]
    merged: dict[int, int]
    marks: dict[int, str]
    moved: set[str]


def plan_decisions(limits: Thresholds, changes: EvidenceChanges) -> DecisionPlan:
    """Compares candidates with those at the last decision, in a few queries."""
    merged = dict(Design.objects.exclude(merged_into=None).values_list("pk", "merged_into"))
    earlier = {row[0]: row[1:] for row in DecisionMark.objects.values_list("design_id", "mark", "action")}
    published = set(Cell.objects.values_list("design_id", flat=True).distinct())
    if not all(mark.startswith(_format_thresholds(limits)) for mark, _ in earlier.values() if mark):
        changes = EVERYTHING
    if changes.everything:
        marks, moved = dict(_compute_marks(limits)), _find_moved_devices()
    else:
        unmarked = set(Design.objects.filter(mark=None).values_list("pk", flat=True))
        marks = {key: mark for key, (mark, _) in earlier.items() if mark and key not in changes.designs}
        marks |= dict(_compute_marks_of_designs(limits, changes.designs | unmarked))
        moved = _list_noted_moved_devices()
    everything = marks.keys() | earlier.keys() | published
    changed = everything & changes.designs
    changed |= {key for key in everything if key not in earlier or earlier[key][0] != marks.get(key, "")}
    # belt and braces: whatever a fingerprint says, a published vote whose test is gone is looked at
    changed |= _find_designs_with_lost_votes(changes)
    together = group_by_shared_past(_find_shared_tests(moved), merged)
    groups = [*together, *([key] for key in sorted(changed - {key for group in together for key in group}))]
    decided = {key for group in groups for key in group}
    settled = {key: _ACTION_WHEN_UNCHANGED[earlier[key][1]] for key in everything - decided}
    return DecisionPlan(groups, settled, merged, marks, moved)


def store_decision_marks(actions: dict[int, CellAction], planned: DecisionPlan) -> None:
    """Keeps what was decided under which fingerprint. Call inside the release's transaction, at its end."""
    marks = planned.marks
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
    # a look at everything finds also who moved before there were notes
    MovedDevice.objects.bulk_create(
        (MovedDevice(device_key=key) for key in sorted(planned.moved - _list_noted_moved_devices())),
        batch_size=BATCH,
    )
    votes = PublishedVote.objects.filter(device_key=OuterRef("device_key"))
    MovedDevice.objects.filter(~Exists(votes)).delete()


def query_voting_results() -> QuerySet[Result]:
    """The results whose tests could vote now."""
    return Result.objects.filter(current=True, counts_as_evidence=True, test__excluded_reason="")


def _format_thresholds(limits: Thresholds) -> str:
    return f"{limits.min_contributors} {limits.min_changes} {limits.votes_per_contributor}: "


def _compute_marks_of_designs(limits: Thresholds, designs: Collection[int]) -> Iterator[tuple[int, str]]:
    keys = sorted(designs)
    for start in range(0, len(keys), BATCH):
        yield from _compute_marks(limits, Q(test__device__design__in=keys[start : start + BATCH]))


def _compute_marks(limits: Thresholds, of: Q = ALL) -> Iterator[tuple[int, str]]:
    """(design, fingerprint) over the row numbers of results, tests, devices and contributors."""
    row = (
        F("id") * 7919
        + F("test_id") * 104729
        + F("test__device_id") * 1299709
        + F("test__device__contributor_id") * 15485863
    ) % _FIRST
    grouped = query_voting_results().filter(of).values("test__device__design_id").order_by()
    sums = grouped.annotate(n=Count("id"), one=Sum(row), two=Sum(row * row % _SECOND))
    for key, *figures in sums.values_list("test__device__design_id", "n", "one", "two"):
        yield key, f"{_format_thresholds(limits)}{' '.join(str(int(figure)) for figure in figures)}"


def _find_designs_with_lost_votes(changes: EvidenceChanges) -> set[int]:
    votes = PublishedVote.objects.without_test(None if changes.everything else changes.tests)
    return set(votes.filter(cell__last_release=None).values_list("cell__design_id", flat=True).distinct())


def _find_moved_devices() -> set[str]:
    """Devices with a vote on a design that their test is not of now, or with a test that voted on several."""
    now_of = Test.objects.filter(key=OuterRef("test_key")).values("device__design_id")[:1]
    found = PublishedVote.objects.annotate(now_of=Subquery(now_of)).exclude(now_of=F("cell__design_id"))
    spread = PublishedVote.objects.values("test_key").order_by()
    spread = spread.annotate(low=Min("cell__design_id"), high=Max("cell__design_id")).exclude(low=F("high"))
    keys = list(spread.values_list("test_key", flat=True))
    moved = set(found.exclude(now_of=None).values_list("device_key", flat=True))
    for start in range(0, len(keys), BATCH):
        votes = PublishedVote.objects.filter(test_key__in=keys[start : start + BATCH])
        moved.update(votes.values_list("device_key", flat=True))
    return moved


def _list_noted_moved_devices() -> set[str]:
    return set(MovedDevice.objects.values_list("device_key", flat=True))


def _find_shared_tests(moved: Collection[str]) -> dict[int, set[str]]:
    """Designs that ever shared a test, each with the tests that it shares; the others are left out."""
    devices = sorted(moved)
    designs: dict[str, set[int]] = defaultdict(set)
    for start in range(0, len(devices), BATCH):
        votes = PublishedVote.objects.filter(device_key__in=devices[start : start + BATCH])
        now_of = Test.objects.filter(key=OuterRef("test_key")).values("device__design_id")[:1]
        rows = votes.annotate(now_of=Subquery(now_of)).values_list("test_key", "cell__design_id", "now_of")
        for test, *own in rows.distinct():
            designs[test].update(design for design in own if design is not None)
    found: dict[int, set[str]] = defaultdict(set)
    for test, own in designs.items():
        for design in own if len(own) > 1 else ():
            found[design].add(test)
    return found
