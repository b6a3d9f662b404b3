"""When something of a device is due: every answer has a year of its own, a mark is due from its day on."""

from __future__ import annotations

from datetime import date, timedelta

from measurements.fitness.checklist import CHECKLIST_ITEMS
from measurements.fitness.required_checks import find_through_test, find_work_test, list_required_bands
from measurements.fitness.service_facts import ServiceCase
from measurements.fitness.standing_marks import list_standing_marks

THROUGH = "through"


def list_test_due_dates(case: ServiceCase) -> dict[str, date]:
    """Return when each required test is due: band -> day, and "through" -> day. Untested ones are missing."""
    device, interval = case.device, timedelta(days=case.rules.test_interval_days)
    found = {band: find_work_test(device, band) for band in list_required_bands(device)}
    found[THROUGH] = find_through_test(device)
    return {name: test.measured_on + interval for name, test in found.items() if test is not None}


def list_item_due_dates(case: ServiceCase) -> dict[str, date]:
    """Return when each item is due to be looked at again; what does not apply never is."""
    interval = timedelta(days=case.rules.inspection_interval_days)
    answers = (case.device.items.get(item.code) for item in CHECKLIST_ITEMS)
    return {
        answer.code: answer.on + interval
        for answer in answers
        if answer is not None and answer.state != "does_not_apply"
    }


def compute_due_date(case: ServiceCase) -> date | None:
    """Return the earliest day on which a test or an item is due, or of a standing mark; None once retired.

    An item that nobody ever looked at is due since the registration.
    """
    device = case.device
    if device.retired_on is not None:
        return None
    items = list_item_due_dates(case)
    days = [*list_test_due_dates(case).values(), *items.values()]
    days += [mark.since for mark, _ in list_standing_marks(device)]
    if any(item.code not in device.items for item in CHECKLIST_ITEMS):
        days.append(device.registered_on)
    return min(days)


def compute_next_change(case: ServiceCase) -> date | None:
    """Return the first day after `case.on` on which the state may change by itself; None where it never does.

    Something is overdue on the day after it was due.
    """
    if case.device.retired_on is not None:
        return None
    days = [*list_test_due_dates(case).values(), *list_item_due_dates(case).values()]
    return min((day + timedelta(days=1) for day in days if day >= case.on), default=None)
