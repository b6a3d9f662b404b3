"""What is due as iCalendar (RFC 5545): one all-day event a device, with its tag and state.

Neither place, nor design, owner, reason or figure: whoever has the address can read it.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta

from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar, Event

from measurements.pages import words_of_upkeep
from measurements.queries import service_list
from measurements.queries.rows_of_upkeep import DeviceStateRow

REFRESH = timedelta(hours=12)


def build(devices: Iterable[DeviceStateRow], *, site: str) -> bytes:
    """The calendar. site: where the pages are, without a slash at the end.

    What is due already stands on today, so that it does not sink into the past unseen.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//Benchnight//Due//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", "Benchnight: due")
    calendar.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    today = timezone.now().date()
    for row in devices:
        event = _event(row, today, site)
        if event is not None:
            calendar.add_component(event)
    return bytes(calendar.to_ical())


def _event(row: DeviceStateRow, today: date, site: str) -> Event | None:
    now = row.state in service_list.NOW
    if row.due_on is None and not now:
        return None
    on = max(row.due_on or today, today) if not now else today
    said = words_of_upkeep.STATES[row.state].word.lower()
    event = Event()
    event.add("uid", f"{row.key}@benchnight")
    event.add("dtstamp", datetime.combine(today, datetime.min.time(), UTC))
    event.add("dtstart", on)
    event.add("dtend", on + timedelta(days=1))
    event.add("summary", f"{row.tag}: {said if now else 'test or inspection due'}")
    event.add("url", site + reverse("pages:device", kwargs={"key": row.key}))
    event.add("transp", "TRANSPARENT")
    return event
