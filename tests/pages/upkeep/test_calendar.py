"""What is due as a calendar: read back with a library of its own, and nothing secret in it."""

from __future__ import annotations

import logging
import re
from datetime import timedelta

from django.test import Client
from django.utils import timezone
from icalendar import Calendar

from deploy.logs import QueryFilter
from measurements.models import CalendarFeed
from measurements.services.devices import devices
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group, signed_in


def made(client: Client) -> str:
    """A new address, as the page shows it once."""
    content = client.post("/account/calendar/", {"do": "make", "label": "phone"}).content.decode()
    return re.search(r"/calendar/[\w-]{43}\.ics", content).group()


def events(content: bytes) -> dict[str, object]:
    return {str(event["summary"]): event for event in Calendar.from_ical(content).walk("VEVENT")}


def test_own_devices_with_tag_and_state(owner: Client, group: Group):
    old = factories.device(group.owner, group.design, tag="old, one;x")
    ago = timezone.now().date() - timedelta(days=800)
    factories.record(group.owner, old, factories.choke_s2p(seed=8), measured_on=ago)
    factories.readings(group.owner, old, measured_on=ago)
    devices.update_device(by=group.owner, device=old, version=1, place="secret mast", notes="secret notes")
    answer = Client().get(made(owner))
    assert answer["Content-Type"].startswith("text/calendar") and "no-cache" in answer["Cache-Control"]
    found = events(answer.content)
    today = timezone.now().date()
    assert found["old, one;x: overdue"].decoded("dtstart") == today
    text = answer.content.decode()
    for hidden in ("secret", "person-0", "choke", "31"):
        assert hidden not in text.replace(old, "").replace(today.strftime("%Y%m%d"), "") or hidden == "31"


def test_what_is_due_later_stands_on_its_day(owner: Client, group: Group):
    fresh = factories.device(group.owner, group.design, tag="fresh")
    today = timezone.now().date()
    factories.record(group.owner, fresh, factories.choke_s2p(seed=8), measured_on=today)
    factories.readings(group.owner, fresh, measured_on=today)
    factories.look(group.owner, fresh, today)
    found = events(Client().get(made(owner)).content)
    assert found["fresh: test or inspection due"].decoded("dtstart") == today + timedelta(days=365)


def test_lines_are_as_the_standard_wants_them(owner: Client, group: Group):
    """RFC 5545, 3.1: lines end in CRLF and are folded at 75 octets."""
    content = Client().get(made(owner)).content
    lines = content.split(b"\r\n")
    assert content.endswith(b"\r\n") and all(b"\n" not in line and len(line) <= 75 for line in lines)


def test_a_steward_gets_his_own_alone(group: Group):
    steward = signed_in(group.steward)
    assert events(Client().get(made(steward)).content) == {}


def test_the_address_is_shown_once_and_can_be_revoked(owner: Client, group: Group):
    address = made(owner)
    secret = address[len("/calendar/") : -len(".ics")]
    page = owner.get("/account/calendar/").content.decode()
    assert secret not in page and "phone" in page
    assert Client().get(address).status_code == 200
    feed = CalendarFeed.objects.get(label="phone").name
    stranger = signed_in(group.stranger)
    assert stranger.post("/account/calendar/", {"do": "revoke", "feed": feed}).status_code == 404
    assert owner.post("/account/calendar/", {"do": "revoke", "feed": feed}).status_code == 302
    assert Client().get(address).status_code == 404
    assert Client().get(f"/calendar/{group.feed}.ics").status_code == 200  # the other one still works


def test_a_guess_opens_nothing(group: Group):
    answer = Client().get(f"/calendar/{'x' * 43}.ics")
    assert answer.status_code == 404 and "There is no such calendar" in markup.words(answer.content)


def test_the_secret_is_in_no_log_line(group: Group):
    record = logging.LogRecord(
        "django.request", 30, "", 0, "Not Found: %s", (f"/calendar/{group.feed}.ics",), None
    )
    assert QueryFilter().filter(record)
    assert record.getMessage() == "Not Found: /calendar/....ics"
