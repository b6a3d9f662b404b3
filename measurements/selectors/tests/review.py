"""Tests that stewards should look at, or have looked at."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Literal

from django.db.models import Prefetch, Q, QuerySet

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.models import Result, Test, check_standards
from measurements.rf.flags import NOTES_FOR_REVIEW
from measurements.selectors import paging
from measurements.selectors.devices import devices, owners
from measurements.selectors.paging import Page

ReviewState = Literal["open", "excluded", "reviewed"]
REVIEW_STATES: tuple[ReviewState, ...] = ("open", "excluded", "reviewed")
MOST_COUNTED = 100


@dataclass(frozen=True)
class ReviewRow:
    """A test in the queue. flags: those that ask for a look. counts: whether it is evidence as it stands.

    shares_bytes: another contributor stored the same file before; its owner reads nothing of that.
    """

    key: str
    device: str
    device_tag: str
    design: str | None
    design_title: str
    owner: str
    kind: str
    method: str | None
    measured_on: date
    recorded_at: datetime
    flags: tuple[dict[str, Any], ...]
    counts: bool
    shares_bytes: bool
    excluded_reason: str
    excluded_at: datetime | None
    reviewed_at: datetime | None


def list_reviews(
    viewer: Viewer,
    which: ReviewState = "open",
    *,
    cursor: str | None = None,
    limit: int = paging.DEFAULT_LIMIT,
) -> Page[ReviewRow]:
    """Return `open`: flagged and not looked at; `excluded`; `reviewed`: looked at. The last recorded
    first.
    """
    policy.check_steward(viewer)
    size = paging.check_limit(limit)
    rows = _with_results(_tests_in_state(which))
    page = paging.paginate_newest_first(rows, "recorded_at", cursor, size)
    return Page(tuple(_review_row(test) for test in page.results), page.next_cursor, page.count)


def get_review(viewer: Viewer, key: str) -> ReviewRow:
    """Return any test as stewards judge it. Raises BenchnightError `test.not_found`."""
    policy.check_steward(viewer)
    test = _with_results(Test.objects.filter(key=key)).first()
    if test is None:
        raise policy.build_not_found("test")
    return _review_row(test)


def count_reviews(viewer: Viewer) -> dict[ReviewState, int]:
    """Count the entries of each queue, up to a hundred."""
    policy.check_steward(viewer)
    return {which: _tests_in_state(which).values("pk")[:MOST_COUNTED].count() for which in REVIEW_STATES}


def _tests_in_state(which: ReviewState) -> QuerySet[Test]:
    if which == "excluded":
        return Test.objects.filter(excluded_at__isnull=False)
    if which == "reviewed":
        return Test.objects.filter(reviewed_at__isnull=False, excluded_at=None)
    flagged = Result.objects.filter(current=True, flagged=True).values("test")
    asks = Q(pk__in=flagged) | Q(shares_bytes=True)
    return Test.objects.filter(asks, reviewed_at=None, excluded_at=None)


def _with_results(tests: QuerySet[Test]) -> QuerySet[Test]:
    results = Result.objects.filter(current=True).defer("traces", "evidence_curve")
    tests = tests.annotate(waits=check_standards.build_waiting_flag())
    return tests.select_related("device__design", "device__contributor__member").prefetch_related(
        Prefetch("results", queryset=results)
    )


def _review_row(test: Test) -> ReviewRow:
    result = test.results.all()[0]
    flags = result.figures["flags"]
    return ReviewRow(
        key=test.key,
        device=test.device.key,
        device_tag=test.device.tag,
        design=None if test.device.design is None else test.device.design.key,
        design_title=owners.format_build(test.device),
        owner=devices.format_owner_name(test.device.contributor),
        kind=test.kind,
        method=result.figures["method"],
        measured_on=test.measured_on,
        recorded_at=test.recorded_at,
        flags=tuple(flag for flag in flags if flag["severity"] != "note" or flag["code"] in NOTES_FOR_REVIEW),
        counts=test.device.design_id is not None
        and result.counts_as_evidence
        and not test.excluded_reason
        and not test.shares_bytes
        and not test.is_private
        and not test.device.is_check_standard
        and not test.waits,  # type: ignore[attr-defined]  # annotated by the queries
        shares_bytes=test.shares_bytes,
        excluded_reason=test.excluded_reason,
        excluded_at=test.excluded_at,
        reviewed_at=test.reviewed_at,
    )
