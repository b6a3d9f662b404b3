"""Reads why tests wait: the sentences of the open holds over them, for whoever may see the test."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Count, Q, QuerySet

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import CheckHold, CheckStandard, Test, check_standards
from measurements.verdict import check_advice, check_sweeps
from measurements.verdict.check_advice import BandOutside


@dataclass(frozen=True)
class HoldRow:
    """A sweep of a check standard that was out of control.

    sentence: which bands, by how much. advice: what to look at. tests: how many wait or waited.
    ended_how: empty while the tests wait; see `models.CheckHold`. ended_by, reason: of a decision.
    """

    key: str
    standard: str | None
    standard_tag: str
    test: str
    kind: str
    method: str
    night: str | None
    measured_on: date
    made_at: datetime
    bands: tuple[BandOutside, ...]
    sentence: str
    advice: str
    tests: int
    ended_at: datetime | None
    ended_how: str
    ended_by: str
    reason: str

    @property
    def open(self) -> bool:
        return self.ended_at is None


MOST_HOLDS = 20  # shown of a check standard or a night


def list_holds_of_standard(standard: CheckStandard) -> tuple[HoldRow, ...]:
    """List all holds of a check standard, the newest first."""
    return _build_rows(CheckHold.objects.filter(standard=standard))


def list_holds_of_night(night: int) -> tuple[HoldRow, ...]:
    """List all holds of a night, by its row number, the newest first."""
    return _build_rows(CheckHold.objects.filter(night=night))


def list_open_holds(viewer: Viewer) -> tuple[HoldRow, ...]:
    """List the holds of the sessions that a viewer runs and that nobody has decided, the newest first."""
    return _build_rows(_query_open_holds(viewer))


def get_open_hold(viewer: Viewer, key: str) -> HoldRow:
    """Return one of them. Raises BenchnightError `check.hold_not_found`, where it has ended too."""
    for row in _build_rows(_query_open_holds(viewer).filter(key=key)):
        return row
    raise BenchnightError("check.hold_not_found", "No tests of yours wait here.", kind="not_found")


def _query_open_holds(viewer: Viewer) -> QuerySet[CheckHold]:
    policy.check_operator(viewer)
    found = CheckHold.objects.filter(ended_at=None)
    if not viewer.is_steward:
        found = found.filter(
            Q(night__staff__member=viewer.member_id) | Q(night=None, recorded_by=viewer.member_id)
        )
    return found


@dataclass(frozen=True)
class WaitingTest:
    """A test that waits, by row numbers."""

    pk: int
    night: int | None
    recorded_by: int | None
    measured_on: date


def list_waiting_sentences(tests: Iterable[WaitingTest]) -> dict[int, tuple[str, ...]]:
    """List why tests wait, by their row numbers. One query, and none without tests."""
    waiting = list(tests)
    if not waiting:
        return {}
    nights = {row.night for row in waiting if row.night is not None}
    days = {row.measured_on for row in waiting if row.night is None}
    found = CheckHold.objects.filter(Q(night__in=nights) | Q(night=None, measured_on__in=days), ended_at=None)
    said: dict[tuple[Any, ...], list[str]] = {}
    for hold in found.order_by("pk"):
        said.setdefault(_name_session(hold.night_id, hold.recorded_by_id, hold.measured_on), []).append(
            f"{_describe(hold)} {hold.advice}"
        )
    return {
        row.pk: tuple(said.get(_name_session(row.night, row.recorded_by, row.measured_on), ()))
        for row in waiting
    }


def _name_session(night: int | None, account: int | None, measured_on: date) -> tuple[Any, ...]:
    return (night,) if night is not None else (account, measured_on)


def _build_rows(holds: QuerySet[CheckHold]) -> tuple[HoldRow, ...]:
    joined = holds.select_related("standard__device", "night", "ended_by").order_by("-made_at", "-pk")
    rows = list(joined[:MOST_HOLDS])
    counted = _count_tests(rows)
    return tuple(
        _build_row(hold, counted.get(_name_session(hold.night_id, hold.recorded_by_id, hold.measured_on), 0))
        for hold in rows
    )


def _build_row(hold: CheckHold, tests: int) -> HoldRow:
    device = None if hold.standard is None else hold.standard.device
    return HoldRow(
        key=hold.key,
        standard=None if hold.standard is None else hold.standard.key,
        standard_tag="" if device is None else device.tag,
        test=hold.test_key,
        kind=hold.kind,
        method=hold.method,
        night=None if hold.night is None else hold.night.key,
        measured_on=hold.measured_on,
        made_at=hold.made_at,
        bands=tuple(BandOutside(**each) for each in hold.findings),
        sentence=_describe(hold),
        advice=hold.advice,
        tests=tests,
        ended_at=hold.ended_at,
        ended_how=hold.ended_how,
        ended_by="" if hold.ended_by is None else hold.ended_by.name,
        reason=hold.reason,
    )


def _describe(hold: CheckHold) -> str:
    figure = check_sweeps.CHARTED_FIGURES[hold.kind]
    return check_advice.describe_outside(figure, [BandOutside(**each) for each in hold.findings])


def _count_tests(holds: Iterable[CheckHold]) -> dict[tuple[Any, ...], int]:
    """Count the tests of the sessions of holds, without those of check standards. One query for all."""
    holds = list(holds)
    nights = {hold.night_id for hold in holds if hold.night_id is not None}
    days = {hold.measured_on for hold in holds if hold.night_id is None}
    if not holds:
        return {}
    tests = Test.objects.filter(Q(night__in=nights) | Q(night=None, measured_on__in=days))
    tests = tests.filter(device__is_check_standard=False).exclude(kind__in=check_standards.UNCHECKED_KINDS)
    found: dict[tuple[Any, ...], int] = {}
    rows = tests.order_by().values_list("night", "recorded_by", "measured_on").annotate(n=Count("pk"))
    for night, account, measured_on, count in rows:
        session = _name_session(night, account, measured_on)
        found[session] = found.get(session, 0) + count
    return found
