"""Tests, their files and curves, as their owner, the operators of their night or a steward sees them."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.db.models.functions import Length

from measurements.disclosure import policy
from measurements.disclosure.policy import Ownership
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import (
    Cell,
    CheckHold,
    Contributor,
    Design,
    Device,
    Night,
    NightDevice,
    NightOperator,
    PublishedVote,
    Result,
    SweepFile,
    Test,
    check_standards,
)
from measurements.models.read_once import read_once
from measurements.rf import corrected_sweeps
from measurements.rf.bands import Band
from measurements.rf.corrected_sweeps import CorrectedSweep
from measurements.rf.request import Request
from measurements.rf.sweeps import reading, result_values
from measurements.selectors import paging
from measurements.selectors.check_standards import waiting
from measurements.selectors.check_standards.waiting import WaitingTest
from measurements.selectors.devices import owners
from measurements.selectors.paging import Page
from measurements.selectors.reference import reference
from measurements.selectors.tests.filtered_tests import TestFilters, filter_tests

NOBODY = Ownership(None)


@dataclass(frozen=True)
class SweepRow:
    """A stored file of a test; its bytes come from `tests.sweep`."""

    role: str
    name: str
    points: int
    ports: int
    size: int
    sha256: str


@dataclass(frozen=True)
class TestRow:
    """A test with its current result.

    evidence: "counts" or "left_out". published: the current release has its figures.
    night: key of the club night it was made on; None at home. is_check_standard: its device gives no
    evidence. waiting: why it waits for the check standard of its night or day, and what to look at.
    """

    key: str
    device: str
    device_tag: str
    design: str | None
    design_title: str
    kind: str
    method: str
    measured_on: date
    recorded_at: datetime
    settings: dict[str, Any]
    result: dict[str, Any]
    sweeps: tuple[SweepRow, ...]
    evidence: str
    published: bool
    excluded_reason: str
    night: str | None = None
    recipe_doubt: dict[str, Any] | None = None
    recipe_confirmed: bool = False
    private: bool = False
    owner: Ownership = NOBODY
    is_check_standard: bool = False
    waiting: tuple[str, ...] = ()

    @property
    def waits_for_recipe(self) -> bool:
        """Say whether it stays out of evidence until its owner confirms or corrects the recipe."""
        return bool(self.recipe_doubt and self.recipe_doubt["contradicts"] and not self.recipe_confirmed)


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
    "device__is_check_standard",
    "recorded_by",
    "waits",
    "device__contributor__is_group",
    "kind",
    "measured_on",
    "recorded_at",
    "settings",
    "excluded_reason",
    "recipe_doubt",
    "recipe_confirmed_at",
    "is_private",
    "night",
    "night__key",
    "results__figures",
    "results__counts_as_evidence",
    "is_published",
)

_FILE_COLUMNS = ("role", "name", "points", "ports", Length("raw"), "raw_sha256")


def _select_columns() -> QuerySet[Test, Any]:
    """Return tests with their current results, `_COLUMNS` of each."""
    rows = Test.objects.annotate(is_published=_IS_PUBLISHED, waits=check_standards.build_waiting_flag())
    rows = rows.filter(results__current=True)
    return rows.values_list(*_COLUMNS, named=True)


def list_tests(
    viewer: Viewer,
    *,
    device: str | None = None,
    asked: TestFilters | None = None,
    own: bool = False,
    cursor: str | None = None,
    limit: int = paging.DEFAULT_LIMIT,
) -> Page[TestRow]:
    """Return the viewer's own tests, the last recorded first; of one device, or those asked for.

    For an operator also those made of what lies on the bench of an own night, for a steward all; own leaves
    these out. Raises BenchnightError `filter.unknown`.
    """
    policy.check_signed_in(viewer)
    size = paging.check_limit(limit)
    wanted = asked or TestFilters()
    rows = filter_tests(_select_columns().filter(build_test_visibility(viewer)), wanted)
    if device is not None:
        rows = rows.filter(device__key=device)
    if own:
        rows = rows.filter(device__contributor__member=viewer.member_id)
    page = paging.paginate_in_order(rows, wanted.order, cursor, size)
    return Page(_with_files(page.results), page.next_cursor, page.count)


def get_test_page(
    viewer: Viewer, asked: TestFilters, *, first: int, most: int
) -> tuple[tuple[TestRow, ...], int]:
    """Return the tests asked for from row `first` on, at most `most`, and how many there are in all.

    Raises BenchnightError `filter.unknown`.
    """
    policy.check_signed_in(viewer)
    seen = filter_tests(Test.objects.filter(build_test_visibility(viewer)), asked)
    order = (asked.order, "-key" if asked.order.startswith("-") else "key")
    keys = list(seen.order_by(*order).values_list("pk", flat=True)[first : first + most])
    found = {row.pk: row for row in _select_columns().filter(pk__in=keys)}
    return _with_files([found[key] for key in keys if key in found]), seen.count()


# Each upload answers with its test. Django takes longer to write this statement than the database to answer
# it, so it is written out. A test compares it with what `list_tests` reads through the ORM.

_UNCHECKED = ", ".join(f"'{kind}'" for kind in check_standards.UNCHECKED_KINDS)
_TEST_SQL = f"""
SELECT t.id, t.device_id, t.key, t.kind, t.measured_on, t.recorded_at, t.settings, t.excluded_reason,
  t.night_id, t.recorded_by_id, t.recipe_doubt, t.recipe_confirmed_at, t.is_private,
  d.key AS device__key, d.tag AS device__tag, s.key AS device__design__key, s.title AS device__design__title,
  c.member_id AS device__contributor__member, d.is_check_standard AS device__is_check_standard,
  c.is_group AS device__contributor__is_group, n.key AS night__key, r.figures AS results__figures,
  r.counts_as_evidence AS results__counts_as_evidence,
  EXISTS (
    SELECT 1 FROM {PublishedVote._meta.db_table} v JOIN {Cell._meta.db_table} x ON x.id = v.cell_id
    WHERE v.test_key = t.key AND x.last_release IS NULL
  ) AS is_published,
  EXISTS (
    SELECT 1 FROM {CheckHold._meta.db_table} h WHERE h.ended_at IS NULL AND t.kind NOT IN ({_UNCHECKED}) AND (
      h.night_id = t.night_id OR (h.night_id IS NULL AND t.night_id IS NULL
        AND h.recorded_by_id = t.recorded_by_id AND h.measured_on = t.measured_on))
  ) AS waits, f.role, f.name, f.points, f.ports, LENGTH(f.raw) AS size, f.raw_sha256
FROM {Test._meta.db_table} t JOIN {Result._meta.db_table} r ON r.test_id = t.id
JOIN {Device._meta.db_table} d ON d.id = t.device_id
LEFT JOIN {Design._meta.db_table} s ON s.id = d.design_id
JOIN {Contributor._meta.db_table} c ON c.id = d.contributor_id
LEFT JOIN {Night._meta.db_table} n ON n.id = t.night_id
LEFT JOIN {SweepFile._meta.db_table} f ON f.test_id = t.id
WHERE t.key = %s AND r.current ORDER BY f.id
"""  # noqa: S608  # names of our own tables


@read_once
def get_test(viewer: Viewer, key: str) -> TestRow:
    """Read a test with its current result, in one query; in two where it waits.

    Raises BenchnightError `test.not_found`.
    """
    policy.check_signed_in(viewer)
    rows: list[Any] = list(Test.objects.raw(_TEST_SQL, [key]))  # one for each file; readings come without one
    if not rows:
        raise policy.build_not_found("test")
    row = rows[0]
    policy.check_see_test(
        viewer,
        _build_ownership(
            row.device__contributor__member,
            row.night_id,
            row.device_id,
            bool(row.device__contributor__is_group),
        ),
    )
    row.results__figures = json.loads(row.results__figures)  # a column of another model is not converted
    session = WaitingTest(row.pk, row.night_id, row.recorded_by_id, row.measured_on)
    said = waiting.list_waiting_sentences([session] if row.waits else [])
    files = (
        SweepRow(file.role, file.name, file.points, file.ports, file.size, file.raw_sha256)
        for file in rows
        if file.role is not None
    )
    return _test_row(row, tuple(files), said.get(row.pk, ()))


def get_sweep_file(viewer: Viewer, key: str, role: str) -> tuple[SweepRow, bytes]:
    """Return a stored file: what is known of it, and its original bytes.

    Raises BenchnightError `test.not_found`, `sweep.not_found`.
    """
    files = SweepFile.objects.filter(test=_find_visible_test(viewer, key), role=role)
    found = files.values_list(*_FILE_COLUMNS, "raw").first()
    if found is None:
        raise BenchnightError("sweep.not_found", "This test has no file of this role.", kind="not_found")
    return SweepRow(*found[:-1]), bytes(found[-1])


@read_once
def get_traces(viewer: Viewer, key: str) -> dict[str, list[float | None]]:
    """Return the curves of a test for display, by name with unit; empty for readings. Raises as `one`."""
    test = _find_visible_test(viewer, key)
    found = Result.objects.filter(test=test, current=True).values_list("trace_names", "traces").first()
    return result_values.format_traces(result_values.unpack_traces(*found)) if found else {}


def list_own_loss_tests(viewer: Viewer) -> tuple[TestRow, ...]:
    """Return the viewer's own insertion-loss tests, the newest first, at most 200: partners of
    `known_partner`.
    """
    policy.check_signed_in(viewer)
    own = _select_columns().filter(device__contributor__member=viewer.member_id, kind="insertion_loss")
    return _with_files(own.order_by("-measured_on", "-pk")[: paging.MAX_LIMIT])


@read_once
def _find_visible_test(viewer: Viewer, key: str) -> Test:
    policy.check_signed_in(viewer)
    test = Test.objects.select_related("device__contributor").filter(key=key).first()
    if test is None:
        raise policy.build_not_found("test")
    policy.check_see_test(viewer, get_test_ownership(test))
    return test


def get_test_ownership(test: Test) -> Ownership:
    """Return the owner of a test and the operators of its night: a test measured at home is not
    theirs.
    """
    owner = test.device.contributor
    return _build_ownership(owner.member_id, test.night_id, test.device_id, owner.is_group)


def _build_ownership(
    member_id: int | None, night_id: int | None, device_id: int, of_group: bool
) -> Ownership:
    operators = NightOperator.objects.of_bench(night_id, device_id)
    return Ownership(member_id, night_operator_ids=operators, of_group=of_group)


def build_test_visibility(viewer: Viewer) -> Q:
    """Return which rows of Test the viewer may see: the same as `ownership` and `policy.can_see_test` say."""
    if viewer.is_steward:
        return Q()
    own = owners.build_owner_filter(viewer, "device__")
    if not viewer.is_operator:
        return own
    on_bench = NightDevice.objects.live().filter(
        night=OuterRef("night"), device=OuterRef("device"), night__staff__member=viewer.member_id
    )
    return own | Q(Exists(on_bench))


def _with_files(rows: Iterable[Any]) -> tuple[TestRow, ...]:
    """Return rows of `_columns` with their files, which are one more query for all of them."""
    rows = list(rows)
    files: dict[int, list[SweepRow]] = {}
    found = SweepFile.objects.filter(test__in=[row.pk for row in rows]).order_by("pk")
    for test, *file in found.values_list("test", *_FILE_COLUMNS):
        files.setdefault(test, []).append(SweepRow(*file))
    said = waiting.list_waiting_sentences(
        WaitingTest(row.pk, row.night, row.recorded_by, row.measured_on) for row in rows if row.waits
    )
    return tuple(_test_row(row, tuple(files.get(row.pk, ())), said.get(row.pk, ())) for row in rows)


def _test_row(row: Any, sweeps: tuple[SweepRow, ...], said: tuple[str, ...]) -> TestRow:
    standard = bool(row.device__is_check_standard)
    # of a build that is not known nothing counts, for any design
    known = row.device__design__key is not None
    left_out = row.excluded_reason or standard or row.waits or row.is_private
    counts = known and row.results__counts_as_evidence and not left_out
    return TestRow(
        key=row.key,
        device=row.device__key,
        device_tag=row.device__tag,
        design=row.device__design__key,
        design_title=row.device__design__title or owners.UNKNOWN_BUILD,
        kind=row.kind,
        method=row.results__figures["method"],
        measured_on=row.measured_on,
        recorded_at=row.recorded_at,
        settings=row.settings,
        result=row.results__figures,
        sweeps=sweeps,
        evidence="counts" if counts else "left_out",
        published=bool(row.is_published),
        excluded_reason=row.excluded_reason,
        night=row.night__key,
        recipe_doubt=row.recipe_doubt,
        recipe_confirmed=row.recipe_confirmed_at is not None,
        private=bool(row.is_private),
        owner=Ownership(row.device__contributor__member, of_group=bool(row.device__contributor__is_group)),
        is_check_standard=standard,
        waiting=() if standard else said,
    )


# A test's sweep merged or compensated, from the bytes that are stored, for whoever may see the test.

CORRECTED_FORMS = {
    "merged": corrected_sweeps.merge_test_sweeps,
    "compensated": corrected_sweeps.compensate_test_sweep,
}


def get_corrected_sweep(viewer: Viewer, key: str, form: str) -> CorrectedSweep:
    """Return form: `merged` or `compensated`.

    Raises BenchnightError `test.not_found`, `corrected.not_turned`, `corrected.no_jig`, `corrected.no_phase`.
    """
    test = get_test(viewer, key)
    files = SweepFile.objects.filter(test__key=key).values_list("role", "raw", "name")
    sweeps = {role: reading.read_sweep(bytes(raw), name, role=role) for role, raw, name in files}
    plan = reference.list_bands(test.settings.get("region"), test.measured_on)
    return CORRECTED_FORMS[form](
        Request(
            kind=test.kind,
            method=test.settings.get("method"),
            sweeps=sweeps,
            bands=tuple(Band(band.band, band.start_hz, band.stop_hz) for band in plan),
        )
    )


# Whose the limit is that a stored result was held against: the trade's, the house's or the group's.

REQUESTED_WITH_TEST = "asked for with this test"

# kind of test: part of its summary, and the benchmark it comes from
_LIMIT_FIELDS: dict[str, tuple[tuple[str, str, str], ...]] = {
    "common_mode": (("benchmark_db", "common_mode", "rejection_db"),),
    "load_match": (("swr_limit", "load_match", "swr"),),
    "in_situ": (),
    "dc": (),
    "insertion_loss": (("loss_limit_db", "insertion_loss", "loss_db"),),
    "balance": (
        ("amplitude_limit_db", "balance", "amplitude_imbalance_db"),
        ("phase_limit_deg", "balance", "phase_imbalance_deg"),
    ),
}


def find_limit_basis(figures: dict[str, Any]) -> str:
    """Return `common practice`, `house default`, `set by the group`, ... ; empty where no limit was held
    against it.

    A limit that no row of the group has is the choice of the member who made the test. One query.
    """
    wanted = [
        (kind, metric, figures["summary"][name])
        for name, kind, metric in _LIMIT_FIELDS[figures["kind"]]
        if figures["summary"].get(name) is not None
    ]
    known = {(row.kind, row.metric, row.value): row.basis for row in reversed(reference.list_benchmarks())}
    return ", ".join(dict.fromkeys(known.get(limit, REQUESTED_WITH_TEST) for limit in wanted))
