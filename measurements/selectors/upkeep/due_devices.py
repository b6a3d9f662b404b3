"""The viewer's calendar addresses, without the addresses: those were shown once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.fitness.service_facts import SERVICE_STATES, DeviceFacts, ServiceAssessment
from measurements.models import CalendarFeed, Device
from measurements.selectors.devices import devices, owners
from measurements.selectors.upkeep import service_states, upkeep_facts
from measurements.selectors.upkeep.rows import CalendarFeedRow, DeviceStateRow


def list_calendar_feeds(viewer: Viewer) -> tuple[CalendarFeedRow, ...]:
    """Return the viewer's own, the oldest first."""
    policy.check_signed_in(viewer)
    rows = CalendarFeed.objects.filter(member_id=viewer.member_id).order_by("pk")
    return tuple(
        CalendarFeedRow(row.name, row.label, row.made_at, row.last_used_on, row.of_group) for row in rows
    )


# Devices by what is due: the most urgent first, with filters.
#
# A state is judged of today and stored nowhere, so sorting by it means judging every device that the
# viewer may
# see. Up to `MOST_JUDGED` that is done; a steward of more narrows the list first, by owner or tag.

MOST_JUDGED = 500

NO_DATE = date.max

DUE_STATES = ("unserviceable", "untested", "overdue")  # somebody has something to do


@dataclass(frozen=True)
class DueFilter:
    """Filters. state: one of the states, "due" (anything to be done now), or empty. retired: show those.
    of_group: only the group's kit.
    """

    text: str = ""
    state: str = ""
    mine: bool = False
    retired: bool = False
    of_group: bool = False


@dataclass(frozen=True)
class DueList:
    """rows: by urgency. counts: state -> how many before the filter on states. narrowed: False where there
    were too many to judge, and only the first were."""

    rows: tuple[DeviceStateRow, ...]
    counts: dict[str, int]
    complete: bool


def list_devices_by_urgency(viewer: Viewer, wanted: DueFilter) -> DueList:
    """Return the devices that the viewer may see, the most urgent first."""
    policy.check_signed_in(viewer)
    found = list(filter_devices(viewer, wanted)[: MOST_JUDGED + 1])
    complete = len(found) <= MOST_JUDGED
    rows = judge_devices(viewer, found[:MOST_JUDGED])
    counts = {state: sum(row.state == state for row in rows) for state in SERVICE_STATES}
    kept = [row for row in rows if _fits(row, wanted.state)]
    return DueList(tuple(sorted(kept, key=_urgency)), counts, complete)


def list_due_devices(viewer: Viewer) -> tuple[DeviceStateRow, ...]:
    """Return every device in service that the viewer may see and that asks for something now.

    However many there are, for what runs by itself: `listing` judges no more than a reader waits for.
    """
    policy.check_signed_in(viewer)
    found: list[DeviceStateRow] = []
    asked, last = filter_devices(viewer, DueFilter()).order_by("pk"), 0
    while portion := list(asked.filter(pk__gt=last)[:MOST_JUDGED]):
        last = portion[-1].pk
        found += [row for row in judge_devices(viewer, portion) if row.state in DUE_STATES]
    return tuple(sorted(found, key=_urgency))


def list_all_devices(viewer: Viewer, wanted: DueFilter) -> tuple[DeviceStateRow, ...]:
    """Return all that fit, by place and tag, however many: for a list on paper and for a calendar."""
    policy.check_signed_in(viewer)
    found: list[DeviceStateRow] = []
    asked, last = filter_devices(viewer, wanted).order_by("pk"), 0
    while portion := list(asked.filter(pk__gt=last)[:MOST_JUDGED]):
        last = portion[-1].pk
        found += judge_devices(viewer, portion)
    return tuple(sorted(found, key=lambda row: (row.place.casefold(), row.tag.casefold())))


def filter_devices(viewer: Viewer, wanted: DueFilter) -> QuerySet[Device]:
    """Return the devices that the viewer may see and that fit all filters but the one on states."""
    rows = service_states.select_devices().filter(devices.build_device_visibility(viewer))
    if wanted.mine:
        rows = rows.filter(contributor__member=viewer.member_id)
    if wanted.of_group:
        rows = rows.filter(contributor__is_group=True)
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


def judge_devices(viewer: Viewer, found: list[Device]) -> list[DeviceStateRow]:
    """Return the rows of devices with their states of today, in a fixed number of queries."""
    facts = upkeep_facts.get_device_facts(viewer, found)
    rules, on, yardsticks = (
        upkeep_facts.get_service_rules(),
        service_states.get_today(),
        service_states.build_repeatability_lookup(found),
    )
    return [
        _device_state_row(
            device,
            facts[device.pk],
            service_states.judge_device(device, facts[device.pk], on, rules, yardsticks),
        )
        for device in found
    ]


def _device_state_row(device: Device, facts: DeviceFacts, judged: ServiceAssessment) -> DeviceStateRow:
    newest = facts.newest(*facts.telling)
    return DeviceStateRow(
        key=device.key,
        tag=device.tag,
        design=None if device.design is None else device.design.key,
        design_title=owners.format_build(device),
        owner=devices.format_owner_name(device.contributor),
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
    """Return retired ones last; else by state, then by the day something is due."""
    return row.retired_on is not None, SERVICE_STATES.index(row.state), row.due_on or NO_DATE, row.tag  # type: ignore[arg-type]
