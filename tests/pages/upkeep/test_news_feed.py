"""What is new for a member as Atom: read back with another reader, and nothing secret in it."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from datetime import timedelta

from django.test import Client
from django.utils import timezone

from measurements.services.devices import devices
from measurements.services.upkeep import calendar_feeds
from tests import factories
from tests.pages.conftest import Group

ATOM = "{http://www.w3.org/2005/Atom}"  # RFC 4287, 1.2


def read(content: bytes) -> list[dict[str, str]]:
    feed = ElementTree.fromstring(content)
    assert feed.tag == f"{ATOM}feed"
    for name in ("id", "title", "updated"):  # RFC 4287, 4.1.1
        assert feed.findtext(f"{ATOM}{name}")
    return [
        {part: entry.findtext(f"{ATOM}{part}") or "" for part in ("id", "title", "updated", "summary")}
        for entry in feed.iter(f"{ATOM}entry")
    ]


def test_own_tests_and_what_is_due(group: Group):
    old = factories.device(group.owner, group.design, tag="old & <one>")
    ago = timezone.now().date() - timedelta(days=800)
    factories.record(group.owner, old, factories.choke_s2p(seed=8), measured_on=ago)
    devices.update_device(by=group.owner, device=old, version=1, place="secret mast", notes="secret notes")
    answer = Client().get(f"/calendar/{group.feed}.atom")
    assert answer["Content-Type"].startswith("application/atom+xml")
    entries = read(answer.content)
    titles = [entry["title"] for entry in entries]
    assert "old & <one>: common mode test judged" in titles and "old & <one>: untested" in titles
    assert "QX-TAG-77: common mode test judged" in titles
    assert all(
        re.match(r"\d+ bands: \d+ ", entry["summary"]) for entry in entries if "judged" in entry["title"]
    )
    assert len({entry["id"] for entry in entries}) == len(entries)
    assert b"secret" not in answer.content and group.feed.encode() in answer.content


def test_it_stays_the_same_from_fetch_to_fetch(group: Group):
    first, second = (read(Client().get(f"/calendar/{group.feed}.atom").content) for _ in range(2))
    assert first == second and first


def test_of_nobody_else(group: Group):
    feed = calendar_feeds.create_calendar_feed(by=group.stranger)
    assert read(Client().get(f"/calendar/{feed}.atom").content) == []


def test_it_is_revoked_with_its_address(group: Group):
    assert Client().get(f"/calendar/{group.feed}.atom").status_code == 200
    calendar_feeds.revoke_calendar_feed(by=group.owner, feed=_name_of(group))
    assert Client().get(f"/calendar/{group.feed}.atom").status_code == 404
    assert Client().get(f"/calendar/{'x' * 43}.atom").status_code == 404


def _name_of(group: Group) -> str:
    from measurements.selectors.upkeep import due_devices

    (feed,) = due_devices.list_calendar_feeds(group.owner)
    return feed.name
