"""What is due as iCalendar (RFC 5545): one all-day event a device, with its tag and state.

Neither place, nor design, owner, reason or figure: whoever has the address can read it.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, date, datetime, timedelta

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone
from icalendar import Calendar, Event

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.accounts import reauthentication
from measurements.pages.layout import form_handling, rendering, upkeep_wording
from measurements.pages.upkeep.forms import FeedForm
from measurements.selectors.upkeep import due_devices
from measurements.selectors.upkeep.device_filters import DueFilter
from measurements.selectors.upkeep.rows import DeviceStateRow
from measurements.services.upkeep import calendar_feeds

OWN_NAME, GROUP_NAME = "Benchnight: due", "Benchnight: kit of the group due"
REFRESH_INTERVAL = timedelta(hours=12)


def build_due_calendar(devices: Iterable[DeviceStateRow], *, site: str, name: str = OWN_NAME) -> bytes:
    """Return the calendar. site: where the pages are, without a slash at the end.

    What is due already stands on today, so that it does not sink into the past unseen.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//Benchnight//Due//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", name)
    calendar.add("refresh-interval", REFRESH_INTERVAL, parameters={"VALUE": "DURATION"})
    today = timezone.localdate()
    for row in devices:
        event = _build_due_event(row, today, site)
        if event is not None:
            calendar.add_component(event)
    return bytes(calendar.to_ical())


def _build_due_event(row: DeviceStateRow, today: date, site: str) -> Event | None:
    now = row.state in due_devices.DUE_STATES
    if row.due_on is None and not now:
        return None
    on = max(row.due_on or today, today) if not now else today
    said = upkeep_wording.STATE_BADGES[row.state].word.lower()
    event = Event()
    event.add("uid", f"{row.key}@benchnight")
    event.add("dtstamp", datetime.combine(today, datetime.min.time(), UTC))
    event.add("dtstart", on)
    event.add("dtend", on + timedelta(days=1))
    event.add("summary", f"{row.tag}: {said if now else 'test or inspection due'}")
    event.add("url", site + reverse("pages:device", kwargs={"key": row.key}))
    event.add("transp", "TRANSPARENT")
    return event


# What is due as a calendar: making and revoking addresses, and the feed itself.


def show_calendar_feeds(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the addresses in use. POST: make one (it is shown in the answer, once), or revoke one."""
    asked, address = reauthentication.get_required_proof(request, viewer), ""
    news = ""
    again = {"asks_present": asked == reauthentication.PASSWORD}
    form = FeedForm(request.POST if request.POST.get("do") == "make" else None, **again)
    if request.method == "POST" and request.POST.get("do") == "revoke":
        calendar_feeds.revoke_calendar_feed(by=viewer, feed=request.POST.get("feed", ""))
        messages.success(request, "The address is revoked: nobody can read it any more.")
        return HttpResponseRedirect(reverse("pages:calendar"))
    if form.is_bound and (too_often := reauthentication.verify_proof(request, viewer, form, asked)):
        return too_often
    if form.is_bound and form.is_valid():
        try:
            secret = calendar_feeds.create_calendar_feed(
                by=viewer,
                label=form.cleaned_data["label"],
                of_group=viewer.is_keeper and request.POST.get("of_group") == "yes",
            )
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            path = reverse("pages:calendar_feed", kwargs={"secret": secret})
            address, form = request.build_absolute_uri(path), FeedForm(**again)
            news = request.build_absolute_uri(reverse("pages:news_feed", kwargs={"secret": secret}))
    context = {
        "form": form,
        "asked": asked,
        "address": address,
        "news": news,
        "feeds": due_devices.list_calendar_feeds(viewer),
    }
    return rendering.render_page(request, "upkeep/calendar.html", context, status=422 if form.errors else 200)


def download_calendar(request: HttpRequest, _viewer: Viewer, secret: str) -> HttpResponse:
    """GET: the calendar of whoever made this address; whoever has the address can read it."""
    owner, of_group = calendar_feeds.open_calendar_feed(secret=secret)
    found = due_devices.list_all_devices(owner, DueFilter(of_group=of_group, mine=not of_group))
    site = request.build_absolute_uri("/").rstrip("/")
    content = build_due_calendar(found, site=site, name=GROUP_NAME if of_group else OWN_NAME)
    response = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="benchnight-due.ics"'
    response["Referrer-Policy"] = "no-referrer"
    response["X-Robots-Tag"] = "noindex"
    return response
