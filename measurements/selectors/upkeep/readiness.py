"""How ready the devices are: counts by state, and by owner, place or month, over all that the viewer sees."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import Case, Count, DateField, F, QuerySet, Value, When
from django.db.models.functions import TruncMonth

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.fitness.service_facts import SERVICE_STATES
from measurements.models import Device
from measurements.models.kept_states import JudgingStandard, build_state_waiting_condition
from measurements.selectors.devices import owners
from measurements.selectors.upkeep import kept_states
from measurements.selectors.upkeep.device_filters import GROUP, NEVER, NOW, WAITING, DueFilter, filter_devices

STATES = (*SERVICE_STATES, WAITING)
_DUE_ALREADY = date(1970, 1, 1)


@dataclass
class BoardRow:
    """One owner, place or month. value: as `DueFilter` takes it. counts: state -> how many."""

    value: str
    label: str
    counts: dict[str, int] = field(default_factory=lambda: dict.fromkeys(STATES, 0))

    @property
    def total(self) -> int:
        return sum(self.counts.values())


@dataclass(frozen=True)
class Board:
    """rows: those with most to do first; months in their order. counts: of all rows together."""

    rows: tuple[BoardRow, ...]
    counts: dict[str, int]

    @property
    def total(self) -> int:
        return sum(self.counts.values())

    @property
    def waiting(self) -> int:
        return self.counts[WAITING]


def count_states(rows: QuerySet[Device], standard: JudgingStandard) -> dict[str, int]:
    """Count devices by kept state, those that wait apart, in two queries whatever their number."""
    return _count_groups(rows, standard, {}, lambda _: ("", ""))[0].counts


def _count_groups(
    rows: QuerySet[Device],
    standard: JudgingStandard,
    columns: dict[str, Any],
    name: Callable[[tuple[Any, ...]], tuple[str, str]],
) -> list[BoardRow]:
    """Count by these columns and by state. A device that waits counts as waiting, whatever it was before."""
    found: dict[str, BoardRow] = {} if columns else {"": BoardRow("", "")}
    every = _group(rows, columns)
    waiting = _group(rows.filter(build_state_waiting_condition(standard)), columns)
    for sign, grouped in ((1, every), (-1, waiting)):
        for state, count, *values in grouped:
            value, label = name(tuple(values))
            row = found.setdefault(value, BoardRow(value, label))
            row.counts[state or WAITING] += sign * count
            if sign < 0:
                row.counts[WAITING] += count
    return list(found.values())


def _group(rows: QuerySet[Device], columns: dict[str, Any]) -> QuerySet[Device, tuple[Any, ...]]:
    plain = rows.order_by().select_related(None).annotate(**columns)
    counted = plain.values("kept_state__state", *columns).annotate(count=Count("pk"))
    return counted.values_list("kept_state__state", "count", *columns)


def count_by(viewer: Viewer, wanted: DueFilter, by: str) -> Board:
    """Count the devices of a filter by "place", "owner" or "month", and by state."""
    policy.check_signed_in(viewer)
    standard = kept_states.get_standard()
    rows = filter_devices(viewer, wanted.without("state"))
    columns, name = _list_columns(by, standard.on)
    found = _count_groups(rows, standard, columns, name)
    counts = {state: sum(row.counts[state] for row in found) for state in STATES}
    return Board(tuple(sorted(found, key=_rank_month if by == "month" else _rank_urgency)), counts)


def _list_columns(
    by: str, today: date
) -> tuple[dict[str, Any], Callable[[tuple[Any, ...]], tuple[str, str]]]:
    if by == "owner":
        return {
            "is_group": F("contributor__is_group"),
            "member_name": F("contributor__member__name"),
            "guest": F("contributor__guest_name"),
        }, _name_owner
    if by == "month":
        due = When(kept_state__due_on__lte=today, then=Value(_DUE_ALREADY, output_field=DateField()))
        month = TruncMonth("kept_state__due_on", output_field=DateField())
        return {"due_month": Case(due, default=month, output_field=DateField())}, _name_month
    return {"where": F("place")}, lambda values: (values[0], values[0])


def _name_owner(values: tuple[Any, ...]) -> tuple[str, str]:
    of_group, member, guest = values
    if of_group:
        return GROUP, owners.THE_GROUP
    return (f"member:{member}", member) if member is not None else (f"guest:{guest}", f"{guest}, a guest")


def _name_month(values: tuple[Any, ...]) -> tuple[str, str]:
    (month,) = values
    if month is None:
        return NEVER, "no day"
    if month == _DUE_ALREADY:
        return NOW, "due already"
    return f"{month:%Y-%m}", f"{month:%B %Y}"


def _rank_month(row: BoardRow) -> tuple[int, str]:
    return (0 if row.value == NOW else 2 if row.value == NEVER else 1), row.value


def _rank_urgency(row: BoardRow) -> tuple[int, int, str]:
    ready = row.counts["serviceable"]
    return ready - row.total, -row.total, row.label.casefold()
