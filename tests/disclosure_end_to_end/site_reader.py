"""Reads everything that one reader can reach: every API address in every form, every page and its links."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from django.db import transaction
from django.test import Client
from django.urls import reverse

from api import urls as urls_module
from measurements.pages import urls as pages_urls
from tests.api.test_permissions import TABLE as API_ADDRESSES
from tests.disclosure_end_to_end.planted_group import Planted
from tests.pages.test_permissions import TABLE as PAGE_ADDRESSES

FORMS = ("json", "csv", "ndjson", "svg", "png", "touchstone", "yaml")
LINK = re.compile(rb'(?:href|src|action|data-[a-z-]+)="(/[^"#]*)')
MOST_PAGES = 400
HEAVY = (
    "/guide/drawings/",
    "/static/",
    "/api/v1/docs",
    "/api/v1/schema",
)  # nothing of a member goes in, and they are many


@dataclass
class Reading:
    """What came back: address -> status line, headers and body as one text of bytes."""

    replies: dict[str, bytes] = field(default_factory=dict)
    statuses: dict[str, int] = field(default_factory=dict)

    def take(self, address: str, reply: object) -> bytes:
        body = b"".join(reply.streaming_content) if reply.streaming else reply.content  # type: ignore[attr-defined]
        headers = "\n".join(f"{name}: {value}" for name, value in reply.headers.items())  # type: ignore[attr-defined]
        self.replies[address] = headers.encode() + b"\n\n" + body
        self.statuses[address] = reply.status_code  # type: ignore[attr-defined]
        return body

    def hits(self, secrets: dict[str, str]) -> set[tuple[str, str]]:
        """(what leaked, where) for every secret in every reply.

        A reply may repeat a key that stood in its own address: its reader had it already.
        """
        return {
            (what, address)
            for address, reply in self.replies.items()
            for what, text in secrets.items()
            if text.lower().encode() in reply.lower() and text not in address
        }


def everything(planted: Planted, who: str) -> Reading:
    """Read all that `who` gets to see over both doors.

    The reading itself leaves nothing behind: a session that it opened would show in the next one.
    """
    reading = Reading()
    with transaction.atomic():
        _api(planted, who, reading)
        _pages(planted, who, reading)
        transaction.set_rollback(True)
    return reading


def _api(planted: Planted, who: str, reading: Reading) -> None:
    headers = {"Authorization": f"Token {planted.tokens[who]}"} if who in planted.tokens else {}
    client, waiting = Client(headers=headers), list(_api_addresses(planted))
    while waiting:
        address = waiting.pop()
        if address in reading.replies:
            continue
        body = reading.take(address, client.get(address))
        # lists go on to their next page, releases to their files
        waiting += [
            split.path + (f"?{split.query}" if split.query else "")
            for found in re.findall(rb'"(?:next|address)":"(http://testserver[^"]+)"', body)
            for split in [urlsplit(found.decode())]
        ]


def _api_addresses(planted: Planted) -> Iterator[str]:
    for pattern in urls_module.urlpatterns:
        if pattern.name not in API_ADDRESSES or pattern.name in ("docs", "schema"):
            continue
        given = {"role": "sweep", "number": planted.release, "name": "evidence.csv"}
        for key in _keys(planted, pattern.name):
            kwargs = {name: ({"id": key} | given)[name] for name in pattern.pattern.converters}
            address = reverse(f"api:{pattern.name}", kwargs=kwargs)
            yield address
            yield from (f"{address}?format={form}" for form in FORMS)
    for words in ("band=40m&band=20m", "order=devices", "order=rejection&verdict=typically_meets", "limit=1"):
        yield f"{reverse('api:designs')}?{words}"
    for curve in ("median", "p10", "p90"):
        address = reverse("api:design_curves", kwargs={"id": planted.design})
        yield f"{address}?format=touchstone&curve={curve}"
    for list_name in ("tests", "evidence"):
        word, key = ("device", planted.device) if list_name == "tests" else ("design", planted.design)
        yield f"{reverse(f'api:{list_name}')}?{word}={key}"


def _keys(planted: Planted, name: str) -> tuple[str, ...]:
    """What to put where an address has a key: things of its kind, the owner's and the night's."""
    if name.startswith("night"):
        return (planted.night.night,)
    if name == "intake":
        return (planted.night.intake,)
    own = (planted.design, planted.device, planted.test)
    return own if name.startswith("design") else (*own, planted.night.device, planted.night.test)


def _pages(planted: Planted, who: str, reading: Reading) -> None:
    client, waiting = planted.browser(who), list(_page_addresses(planted, who))
    seen: set[str] = set()
    while waiting and len(seen) < MOST_PAGES:
        address = waiting.pop(0)
        if address in seen or address.startswith(HEAVY):
            continue
        seen.add(address)
        # a page writes & as &amp; in an address
        body = reading.take(address, client.get(address))
        waiting += [found.decode().replace("&amp;", "&") for found in LINK.findall(body)]
    assert not [left for left in waiting if left not in seen and not left.startswith(HEAVY)], "too many pages"


def _page_addresses(planted: Planted, who: str) -> Iterator[str]:
    names = ("design", "device", "test", "inspection", "photo", "search", "analyser", "feed")
    keys = {name: getattr(planted, name) for name in names}
    if who != "owner":
        keys["feed"] = "x" * len(planted.feed)  # a secret of the owner's: others can only guess at it
    keys |= {"night": planted.night.night, "nosuchintak1": planted.night.intake}
    for pattern in pages_urls.urlpatterns:
        given = PAGE_ADDRESSES[pattern.name][0]
        kwargs = {name: keys.get(value, value) for name, value in given.items()}
        yield reverse(f"pages:{pattern.name}", kwargs=kwargs)
    yield f"/devices/{planted.night.device}/"
    yield f"/tests/{planted.night.test}/"
    yield planted.draft
    yield "/?band=40m&band=20m"
    yield "/predict/?band=40m&mix=31"
    yield "/predict/winding/?part=2631803802&stacked=1&turns=12&band=40m"
    yield "/predict/winding/chart.json?part=2631803802&stacked=1&turns=12"
    yield f"/designs/{planted.design}/chart.svg"
    yield f"/tests/{planted.test}/chart.svg"
    yield f"{planted.draft}chart.svg"
    yield f"/designs/compare/?design={planted.design}"
