"""Devices by what is due, out of kept states; the viewer's calendar addresses, without the addresses."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from django.db.models import Case, F, IntegerField, QuerySet, Value, When

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.fitness.service_facts import SERVICE_STATES, DeviceFacts, ServiceAssessment
from measurements.models import CalendarFeed, Device
from measurements.models.kept_states import JudgingStandard, build_state_waiting_flag
from measurements.selectors.devices import devices, owners
from measurements.selectors.upkeep import device_filters, kept_states, readiness, service_states, upkeep_facts
from measurements.selectors.upkeep.device_filters import WAITING, DueFilter
from measurements.selectors.upkeep.rows import CalendarFeedRow, DeviceStateRow


def list_calendar_feeds(viewer: Viewer) -> tuple[CalendarFeedRow, ...]:
    """Return the viewer's own, the oldest first."""
    policy.check_signed_in(viewer)
    rows = CalendarFeed.objects.filter(member_id=viewer.member_id).order_by("pk")
    return tuple(
        CalendarFeedRow(row.name, row.label, row.made_at, row.last_used_on, row.of_group) for row in rows
    )


# Devices in a list: a page of them, the most urgent first, and exact counts of all.

PORTION = 500  # of devices in memory where all of them are read
PAGE_SIZE = 50
NO_DATE = date.max
DUE_STATES = ("unserviceable", "untested", "overdue")  # somebody has something to do
WAITING_REASON = "Something changed. It is judged anew within a minute."


@dataclass(frozen=True)
class DueList:
    """rows: one page, the most urgent first. total: how many fit all filters.

    counts: state -> how many before the filter on states, those that wait for being judged under "waiting".
    """

    rows: tuple[DeviceStateRow, ...]
    counts: dict[str, int]
    total: int

    @property
    def waiting(self) -> int:
        return self.counts[WAITING]


def list_devices_by_urgency(
    viewer: Viewer, wanted: DueFilter, *, page: int = 1, size: int = PAGE_SIZE
) -> DueList:
    """Return a page of the devices that the viewer may see, the most urgent first. Pages count from 1."""
    policy.check_signed_in(viewer)
    standard = kept_states.get_standard()
    rows = device_filters.filter_devices(viewer, wanted)
    counts = readiness.count_states(rows, standard)
    kept = device_filters.filter_by_state(rows, wanted.state, standard)
    shown = _order_by_urgency(_flag_waiting(kept, standard))[(page - 1) * size : page * size]
    return DueList(
        tuple(_kept_row(device) for device in shown), counts, _count_in_state(counts, wanted.state)
    )


def _count_in_state(counts: dict[str, int], state: str) -> int:
    if state == "due":
        return sum(counts.values()) - counts["serviceable"] - counts[WAITING]
    return counts[state] if state else sum(counts.values())


def _flag_waiting(rows: QuerySet[Device], standard: JudgingStandard) -> QuerySet[Device]:
    return rows.annotate(waits=build_state_waiting_flag(standard))


def _order_by_urgency(rows: QuerySet[Device]) -> QuerySet[Device]:
    """Order retired ones last; else by state, those that wait first; then by the day something is due."""
    ranks = [When(kept_state__state=state, then=Value(at)) for at, state in enumerate(SERVICE_STATES)]
    return rows.annotate(
        retired=Case(When(retired_on=None, then=0), default=1, output_field=IntegerField()),
        rank=Case(When(waits=True, then=Value(-1)), *ranks, default=-1, output_field=IntegerField()),
    ).order_by("retired", "rank", F("kept_state__due_on").asc(nulls_last=True), "tag", "pk")


def list_due_devices(viewer: Viewer) -> tuple[DeviceStateRow, ...]:
    """Return every device in service that the viewer may see and that asks for something now."""
    found = [row for row in iterate_devices(viewer, DueFilter()) if row.state in DUE_STATES]
    return tuple(sorted(found, key=_urgency))


def list_all_devices(viewer: Viewer, wanted: DueFilter) -> tuple[DeviceStateRow, ...]:
    """Return all that fit, by place and tag, however many: for a list on paper and for a calendar."""
    found = iterate_devices(viewer, wanted)
    return tuple(sorted(found, key=lambda row: (row.place.casefold(), row.tag.casefold())))


def iterate_devices(viewer: Viewer, wanted: DueFilter) -> Iterator[DeviceStateRow]:
    """Yield all that fit, in the order of registration. Devices that wait are judged on the way.

    So a list that is made without a reader's second look, such as a mail, leaves no device open.
    """
    policy.check_signed_in(viewer)
    standard = kept_states.get_standard()
    rows = _flag_waiting(device_filters.filter_devices(viewer, wanted), standard).order_by("pk")
    last = 0
    while portion := list(rows.filter(pk__gt=last)[:PORTION]):
        last = portion[-1].pk
        waits = [device for device in portion if device.waits]  # type: ignore[attr-defined]
        judged = dict(zip((device.pk for device in waits), judge_devices(viewer, waits), strict=True))
        for device in portion:
            row = judged.get(device.pk) or _kept_row(device)
            if _fits(row, wanted.state):
                yield row


def _kept_row(device: Device) -> DeviceStateRow:
    """Build a row out of the kept state; one that does not hold says nothing."""
    kept = None if device.waits else device.kept_state  # type: ignore[attr-defined]  # annotated above
    return DeviceStateRow(
        key=device.key,
        tag=device.tag,
        design=None if device.design is None else device.design.key,
        design_title=owners.format_build(device),
        owner=devices.format_owner_name(device.contributor),
        place=device.place,
        state=WAITING if kept is None else kept.state,
        reason=WAITING_REASON if kept is None else kept.reason,
        next_step="" if kept is None else kept.next_step,
        due_on=None if kept is None else kept.due_on,
        retired_on=device.retired_on,
        newest_on=None if kept is None else kept.newest_on,
        owned_by=device.contributor.member_id,
    )


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
        owned_by=device.contributor.member_id,
    )


def _fits(row: DeviceStateRow, state: str) -> bool:
    if state == "due":
        return row.state != "serviceable"
    return not state or row.state == state


def _urgency(row: DeviceStateRow) -> tuple[bool, int, date, str]:
    """Rank retired ones last; else by state, then by the day something is due."""
    return row.retired_on is not None, SERVICE_STATES.index(row.state), row.due_on or NO_DATE, row.tag  # type: ignore[arg-type]
