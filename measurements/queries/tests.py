"""Tests, their files and curves, as their owner, the operators of their night or a steward sees them."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.db.models.functions import Length

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.disclosure.policy import Ownership
from measurements.errors import BenchnightError
from measurements.models import NightOperator, PublishedVote, Result, SweepFile, Test
from measurements.models.prepared import Prepared
from measurements.queries import paging
from measurements.queries.rows import Page, SweepRow, TestRow
from measurements.rf import packed_traces

_IS_PUBLISHED = Exists(PublishedVote.objects.filter(test_key=OuterRef("key"), cell__last_release=None))
# what a row is made of, and nothing beside it: whole rows of design, device and owner are not needed
_COLUMNS = (
    "pk",
    "key",
    "device__key",
    "device__tag",
    "device__design__key",
    "device__design__title",
    "device__contributor__member",
    "kind",
    "measured_on",
    "recorded_at",
    "settings",
    "excluded_reason",
    "night",
    "night__key",
    "results__figures",
    "results__counts_as_evidence",
    "is_published",
)
_FILE_COLUMNS = ("role", "name", "points", "ports", Length("raw"), "raw_sha256")


def _columns() -> QuerySet[Test, Any]:
    """Tests with their current results, `_COLUMNS` of each."""
    rows = Test.objects.annotate(is_published=_IS_PUBLISHED).filter(results__current=True)
    return rows.values_list(*_COLUMNS, named=True)


_ONE = Prepared(lambda key: _columns().filter(key=key), str)
_FILES = Prepared(
    lambda test: SweepFile.objects.filter(test=test).order_by("pk").values_list(*_FILE_COLUMNS), int
)


def listing(
    viewer: Viewer,
    *,
    device: str | None = None,
    cursor: str | None = None,
    limit: int = paging.DEFAULT_LIMIT,
) -> Page[TestRow]:
    """The viewer's own tests, the last recorded first; of one device when asked.

    For an operator also those made on own nights, for a steward all.
    """
    policy.check_signed_in(viewer)
    size = paging.checked_limit(limit)
    rows = _columns().filter(within_reach(viewer))
    if device is not None:
        rows = rows.filter(device__key=device)
    found, next_cursor = paging.newest_first(rows, "recorded_at", cursor, size)
    return Page(_with_files(found), next_cursor)


def one(viewer: Viewer, key: str) -> TestRow:
    """A test with its current result, in two queries. Raises BenchnightError `test.not_found`."""
    policy.check_signed_in(viewer)
    row = _ONE.first(key)
    if row is None:
        raise policy.missing("test")
    policy.check_see_test(viewer, _ownership(row.device__contributor__member, row.night))
    return _row(row, tuple(SweepRow(*file) for file in _FILES.all(row.pk)))


def sweep(viewer: Viewer, key: str, role: str) -> tuple[SweepRow, bytes]:
    """A stored file: what is known of it, and its original bytes.

    Raises BenchnightError `test.not_found`, `sweep.not_found`.
    """
    files = SweepFile.objects.filter(test=_seen(viewer, key), role=role)
    found = files.values_list(*_FILE_COLUMNS, "raw").first()
    if found is None:
        raise BenchnightError("sweep.not_found", "This test has no file of this role.", kind="not_found")
    return SweepRow(*found[:-1]), bytes(found[-1])


def traces(viewer: Viewer, key: str) -> dict[str, list[float | None]]:
    """The curves of a test for display, by name with unit; empty for readings. Raises as `one`."""
    test = _seen(viewer, key)
    found = Result.objects.filter(test=test, current=True).values_list("trace_names", "traces").first()
    return packed_traces.listed(packed_traces.unpack(*found)) if found else {}


def loss_tests(viewer: Viewer) -> tuple[TestRow, ...]:
    """The viewer's own insertion-loss tests, the newest first, at most 200: partners of `known_partner`."""
    policy.check_signed_in(viewer)
    own = _columns().filter(device__contributor__member=viewer.member_id, kind="insertion_loss")
    return _with_files(own.order_by("-measured_on", "-pk")[: paging.MOST])


def _seen(viewer: Viewer, key: str) -> Test:
    policy.check_signed_in(viewer)
    test = Test.objects.select_related("device__contributor").filter(key=key).first()
    if test is None:
        raise policy.missing("test")
    policy.check_see_test(viewer, ownership(test))
    return test


def ownership(test: Test) -> Ownership:
    """Whose a test is, and who ran the night it was made on: what was measured at home is not theirs."""
    return _ownership(test.device.contributor.member_id, test.night_id)


def _ownership(member_id: int | None, night_id: int | None) -> Ownership:
    return Ownership(owner_member_id=member_id, night_operator_ids=NightOperator.objects.of_night(night_id))


def within_reach(viewer: Viewer) -> Q:
    """Which rows of Test the viewer may see: the same as `ownership` and `policy.can_see_test` say."""
    if viewer.is_steward:
        return Q()
    own = Q(device__contributor__member=viewer.member_id)
    if not viewer.is_operator:
        return own
    ran = NightOperator.objects.filter(night=OuterRef("night"), member=viewer.member_id)
    return own | Q(Exists(ran))


def _with_files(rows: Iterable[Any]) -> tuple[TestRow, ...]:
    """Rows of `_columns` with their files, which are one more query for all of them."""
    rows = list(rows)
    files: dict[int, list[SweepRow]] = {}
    found = SweepFile.objects.filter(test__in=[row.pk for row in rows]).order_by("pk")
    for test, *file in found.values_list("test", *_FILE_COLUMNS):
        files.setdefault(test, []).append(SweepRow(*file))
    return tuple(_row(row, tuple(files.get(row.pk, ()))) for row in rows)


def _row(row: Any, sweeps: tuple[SweepRow, ...]) -> TestRow:
    counts = row.results__counts_as_evidence and not row.excluded_reason
    return TestRow(
        key=row.key,
        device=row.device__key,
        device_tag=row.device__tag,
        design=row.device__design__key,
        design_title=row.device__design__title,
        kind=row.kind,
        method=row.results__figures["method"],
        measured_on=row.measured_on,
        recorded_at=row.recorded_at,
        settings=row.settings,
        result=row.results__figures,
        sweeps=sweeps,
        evidence="counts" if counts else "left_out",
        published=row.is_published,
        excluded_reason=row.excluded_reason,
        night=row.night__key,
    )
