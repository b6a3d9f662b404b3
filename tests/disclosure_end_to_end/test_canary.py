"""Marks planted in every input of one member are sent to nobody else, over either door, in any form.

Hits allowed: none. The owner's own reading must find them, or the search itself would be blind.
"""

from __future__ import annotations

import io
import logging
import struct
import zlib
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.test import Client

from deploy.logs import FORMAT, LineFormatter, QueryFilter
from tests import factories
from tests.disclosure_end_to_end.conftest import Seen
from tests.disclosure_end_to_end.planted_group import MARKS, MEASURED_ON, Planted, days

OTHERS = ("anonymous", "member", "operator")


@pytest.mark.parametrize("who", OTHERS)
def test_nothing_that_was_planted_reaches_others(planted: Planted, seen: Seen, who: str):
    found = seen(who)
    assert len(found.replies) > 150
    assert sum(status == 200 for status in found.statuses.values()) > 60
    assert not [address for address, status in found.statuses.items() if status >= 500]
    assert found.hits(planted.secrets) == set()


@pytest.mark.parametrize("who", [*OTHERS, "owner"])
def test_nothing_of_a_night_reaches_who_does_not_run_it(planted: Planted, seen: Seen, who: str):
    """Not its guests, files, jig nor keys; the operator of another night is as much a stranger as anybody."""
    assert seen(who).hits(planted.night.secrets) == set()


def test_who_runs_a_night_reads_all_of_it_and_nothing_of_other_members(planted: Planted, seen: Seen):
    found = seen("runner")
    never = {"guest", "claim code"}  # the ledger's key stays on the server, a code is shown once
    assert {what for what, _ in found.hits(planted.night.secrets)} == set(planted.night.secrets) - never
    assert found.hits(planted.secrets) == set()


def test_the_search_is_not_blind(planted: Planted, seen: Seen):
    """The owner reads every mark, the day and the grid, and keys at addresses that do not hold them."""
    found = {what for what, _ in seen("owner").hits(planted.secrets)}
    expected = set(MARKS) - {"token label"}  # tokens are listed to nobody
    expected |= {"test", "device", "first frequency", f"measured on ({MEASURED_ON.isoformat()})"}
    assert expected - found == set()


def test_refused_recipes_leave_nothing_behind(planted: Planted):
    """A recipe is published, so free text in it is refused wherever it stands, and not remembered."""
    mark = "quagga-recipe"
    owner = Client(headers={"Authorization": f"Token {planted.tokens['owner']}"})
    plain = factories.recipe(turns=17)
    attempts = [
        {**plain, "title": mark},
        {**plain, "purpose": mark},
        {**plain, "ratio": mark},
        {**plain, "winding": {**plain["winding"], "conductor": mark}},
        {**plain, "winding": {**plain["winding"], "style": mark}},
        {**plain, "winding": {**plain["winding"], "notes": mark}},
        {**plain, "cores": [{**plain["cores"][0], "part": mark}]},
        {**plain, "cores": [{**plain["cores"][0], "mix": mark}]},
        {**plain, "cores": [{**plain["cores"][0], "shape": mark}]},
        {**plain, "cores": [{**plain["cores"][0], "maker": mark}]},
    ]
    for attempt in attempts:
        reply = owner.post("/api/v1/designs/", attempt, content_type="application/json")
        assert reply.status_code == 400, attempt
    others = planted.browser("member")
    for address in ("/api/v1/designs/?limit=200", "/api/v1/evidence/", "/designs/", "/"):
        assert mark not in others.get(address).content.decode()


def test_a_picture_carries_no_text(planted: Planted):
    """PNG holds pixels: no text, time or profile chunk that could carry a name."""
    reply = Client().get(f"/api/v1/designs/{planted.design}/chart/?format=png")
    assert {kind for kind, _ in _chunks(reply.content)} <= {
        b"IHDR",
        b"IDAT",
        b"IEND",
        b"pHYs",
        b"sRGB",
        b"gAMA",
    }


def test_nothing_that_was_planted_reaches_the_log(planted: Planted):
    """At the level a server runs at: uploads, refusals, wrong tokens, addresses that are not there."""
    owner, other = planted.browser("owner"), planted.browser("member")
    with _log() as log:
        factories.record(
            planted.owner,
            planted.device,
            factories.choke_s2p(seed=61, points=51, comment=MARKS["comment line"]),
        )
        for client in (owner, other, Client()):
            client.get(f"/tests/{planted.test}/?q={MARKS['tag']}")
            client.get(f"/no/such/page/?name={MARKS['account name']}")
            client.get(f"/api/v1/designs/?nothing={MARKS['notes']}")
        Client().post("/sign-in/", {"name": MARKS["account name"], "password": "wrong"})
        Client(headers={"Authorization": f"Token {MARKS['token label']}"}).get("/api/v1/tests/")
        broken = {"kind": "common_mode", "device": planted.device, "measured_on": "2026-02-17"}
        token = {"Authorization": f"Token {planted.tokens['owner']}"}
        faulty = io.BytesIO(f"! {MARKS['comment line']}\n# Hz S RI R 50\n1 x\n".encode())
        faulty.name = f"{MARKS['file name']}.s2p"
        assert Client(headers=token).post("/api/v1/tests/", {**broken, "sweep": faulty}).status_code == 400
        logging.getLogger("django.request").warning("reached %s", "the log")
    written = log.getvalue()
    assert "reached the log" in written and "Not Found" in written
    secrets = {**MARKS, "token": planted.tokens["owner"]} | {form: form for form in days(MEASURED_ON)}
    assert [what for what, text in secrets.items() if text in written] == []


@contextmanager
def _log() -> Iterator[io.StringIO]:
    """What the server's handlers would write, in the server's own format."""
    stream = io.StringIO()
    handler = logging.StreamHandler(stream)
    handler.setFormatter(LineFormatter(FORMAT, style="{"))
    handler.addFilter(QueryFilter())
    loggers = [logging.getLogger(name) for name in (None, "django", "django.server", "django.db.backends")]
    levels = [logger.level for logger in loggers]
    for logger in loggers:
        logger.addHandler(handler)
        logger.setLevel("WARNING" if logger.name == "django.db.backends" else "INFO")
    try:
        yield stream
    finally:
        for logger, level in zip(loggers, levels, strict=True):
            logger.removeHandler(handler)
            logger.setLevel(level)


def _chunks(png: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Kind and data of each chunk (PNG specification, third edition, section 5)."""
    assert png[:8] == b"\x89PNG\r\n\x1a\n"
    place = 8
    while place < len(png):
        (size,) = struct.unpack(">I", png[place : place + 4])
        kind, data = png[place + 4 : place + 8], png[place + 8 : place + 8 + size]
        (check,) = struct.unpack(">I", png[place + 8 + size : place + 12 + size])
        assert zlib.crc32(kind + data) == check
        yield kind, data
        place += 12 + size
