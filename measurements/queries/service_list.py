"""Devices by what is due: the most urgent first, with filters.

A state is judged of today and stored nowhere, so sorting by it means judging every device that the viewer may
see. Up to `MOST_JUDGED` that is done; a steward of more narrows the list first, by owner or tag.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.models import Device
from measurements.queries import devices, service, upkeep_facts, upkeep_rules
from measurements.queries.rows_of_upkeep import DeviceStateRow
from measurements.verdict.service_facts import STATES, DeviceFacts, Service

MOST_JUDGED = 500
FAR = date.max
NOW = ("unserviceable", "untested", "overdue")  # somebody has something to do


@dataclass(frozen=True)
class Wanted:
    """Filters. state: one of the states, "due" (anything to be done now), or empty. retired: show those."""

    text: str = ""
    state: str = ""
    mine: bool = False
    retired: bool = False


@dataclass(frozen=True)
class Due:
    """rows: by urgency. counts: state -> how many before the filter on states. narrowed: False where there
    were too many to judge, and only the first were."""

    rows: tuple[DeviceStateRow, ...]
    counts: dict[str, int]
    complete: bool


def listing(viewer: Viewer, wanted: Wanted) -> Due:
    """The devices that the viewer may see, the most urgent first."""
    policy.check_signed_in(viewer)
    found = list(_asked(viewer, wanted)[: MOST_JUDGED + 1])
    complete = len(found) <= MOST_JUDGED
    rows = _rows(viewer, found[:MOST_JUDGED])
    counts = {state: sum(row.state == state for row in rows) for state in STATES}
    kept = [row for row in rows if _fits(row, wanted.state)]
    return Due(tuple(sorted(kept, key=_urgency)), counts, complete)


def due_now(viewer: Viewer) -> tuple[DeviceStateRow, ...]:
    """Every device in service that the viewer may see and that asks for something now.

    However many there are, for what runs by itself: `listing` judges no more than a reader waits for.
    """
    policy.check_signed_in(viewer)
    found: list[DeviceStateRow] = []
    asked, last = _asked(viewer, Wanted()).order_by("pk"), 0
    while portion := list(asked.filter(pk__gt=last)[:MOST_JUDGED]):
        last = portion[-1].pk
        found += [row for row in _rows(viewer, portion) if row.state in NOW]
    return tuple(sorted(found, key=_urgency))


def _asked(viewer: Viewer, wanted: Wanted) -> QuerySet[Device]:
    rows = service.with_all().filter(devices.within_reach(viewer))
    if wanted.mine:
        rows = rows.filter(contributor__member=viewer.member_id)
    if not wanted.retired:
        rows = rows.filter(retired_on=None)
    if wanted.text:
        rows = rows.filter(
            Q(tag__icontains=wanted.text)
            | Q(place__icontains=wanted.text)
            | Q(contributor__member__name__icontains=wanted.text)
            | Q(contributor__guest_name__icontains=wanted.text)
            | Q(design__title__icontains=wanted.text)
        )
    return rows.order_by("registered_at", "pk")


def _rows(viewer: Viewer, found: list[Device]) -> list[DeviceStateRow]:
    facts = upkeep_facts.of_devices(viewer, found)
    rules, on, yardsticks = upkeep_rules.rules(), service.today(), service.once_each()
    return [
        _row(device, facts[device.pk], service.judged(device, facts[device.pk], on, rules, yardsticks))
        for device in found
    ]


def _row(device: Device, facts: DeviceFacts, judged: Service) -> DeviceStateRow:
    newest = facts.newest(*facts.telling)
    return DeviceStateRow(
        key=device.key,
        tag=device.tag,
        design=device.design.key,
        design_title=device.design.title,
        owner=devices.owner_name(device.contributor),
        place=device.place,
        state=judged.state,
        reason=judged.reasons[0].message,
        next_step=judged.next_step.message,
        due_on=judged.due_on,
        retired_on=device.retired_on,
        newest_on=None if newest is None else newest.measured_on,
    )


def _fits(row: DeviceStateRow, state: str) -> bool:
    if state == "due":
        return row.state != "serviceable"
    return not state or row.state == state


def _urgency(row: DeviceStateRow) -> tuple[bool, int, date, str]:
    """Retired ones last; else by state, then by the day something is due."""
    return row.retired_on is not None, STATES.index(row.state), row.due_on or FAR, row.tag  # type: ignore[arg-type]
