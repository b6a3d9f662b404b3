"""Filters of devices by what lists and the board show: state, owner, place, month, text."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date

from django.db.models import Q, QuerySet

from measurements.disclosure.viewers import Viewer
from measurements.models import Device
from measurements.models.kept_states import JudgingStandard, build_state_waiting_condition
from measurements.selectors.devices import devices
from measurements.selectors.upkeep import service_states

WAITING = "waiting"  # no kept state of it holds: it is judged within a minute
NOW, NEVER = "now", "never"  # months of what is due already, and of what never is
GROUP = "group"
MONTH = re.compile(r"(?P<year>20[0-9]{2})-(?P<month>0[1-9]|1[0-2])")


@dataclass(frozen=True)
class DueFilter:
    """Filters. state: one of the states, "waiting", "due" (anything to be done now), or empty.

    retired: show those. of_group: only the group's kit. owner: "group", "member:NAME", "guest:NAME" or empty.
    place: exactly this one, "" for devices without a place, None for all. month: "YYYY-MM" in which something
    is due next, "now" where it is due already, "never", or empty. due_before: something is due before this
    day; None for all.
    """

    text: str = ""
    state: str = ""
    mine: bool = False
    retired: bool = False
    of_group: bool = False
    owner: str = ""
    place: str | None = None
    month: str = ""
    due_before: date | None = None

    def without(self, *names: str) -> DueFilter:
        """Return the same filter with some of its fields at their defaults."""
        plain = DueFilter()
        return replace(self, **{name: getattr(plain, name) for name in names})


def filter_devices(viewer: Viewer, wanted: DueFilter) -> QuerySet[Device]:
    """Return the devices that the viewer may see and that fit all filters but the one on states."""
    rows = service_states.select_devices().select_related("kept_state")
    rows = rows.filter(devices.build_device_visibility(viewer))
    return _filter(rows, viewer, wanted).order_by("registered_at", "pk")


def _filter(rows: QuerySet[Device], viewer: Viewer, wanted: DueFilter) -> QuerySet[Device]:
    if wanted.mine:
        rows = rows.filter(contributor__member=viewer.member_id)
    if wanted.of_group:
        rows = rows.filter(contributor__is_group=True)
    if not wanted.retired:
        rows = rows.filter(retired_on=None)
    if wanted.owner:
        rows = rows.filter(_build_owner_condition(wanted.owner))
    if wanted.place is not None:
        rows = rows.filter(place=wanted.place)
    if wanted.month:
        rows = rows.filter(_build_month_condition(wanted.month, service_states.get_today()))
    if wanted.due_before is not None:
        rows = rows.filter(kept_state__due_on__lt=wanted.due_before)
    return rows.filter(_build_text_condition(wanted.text)) if wanted.text else rows


def _build_text_condition(text: str) -> Q:
    return (
        Q(tag__icontains=text)
        | Q(place__icontains=text)
        | Q(contributor__member__name__icontains=text)
        | Q(contributor__guest_name__icontains=text)
        | Q(design__title__icontains=text)
    )


def _build_owner_condition(owner: str) -> Q:
    kind, _, name = owner.partition(":")
    if kind == "member":
        return Q(contributor__member__name=name)
    if kind == "guest":
        return Q(contributor__member=None, contributor__is_group=False, contributor__guest_name=name)
    return Q(contributor__is_group=True) if owner == GROUP else Q(pk=None)


def _build_month_condition(month: str, today: date) -> Q:
    if month == NOW:
        return Q(kept_state__due_on__lte=today)
    if month == NEVER:
        return Q(kept_state__due_on=None)
    found = MONTH.fullmatch(month)
    if found is None:
        return Q(pk=None)
    number, year = int(found["month"]), int(found["year"])
    return Q(kept_state__due_on__gt=today, kept_state__due_on__month=number, kept_state__due_on__year=year)


def filter_by_state(rows: QuerySet[Device], state: str, standard: JudgingStandard) -> QuerySet[Device]:
    """Return those whose kept state holds and is this one; of "waiting" those that have none."""
    waits = build_state_waiting_condition(standard)
    if not state:
        return rows
    if state == WAITING:
        return rows.filter(waits)
    held = rows.exclude(waits)
    return (
        held.exclude(kept_state__state="serviceable")
        if state == "due"
        else held.filter(kept_state__state=state)
    )
