"""The server's log says who tried to come in and who was refused what, without a name or an address."""

from __future__ import annotations

import io
import logging
import re
from datetime import UTC, datetime

import pytest
from django.core.management import call_command
from django.test import Client

from deploy import logs
from measurements.services.accounts import access_tokens, accounts, security_log
from tests.pages.conftest import Group, signed_in

PASSWORD = "five lamps over the bench"
ADDRESS = "192.0.2.77"  # RFC 5737, set aside for documents


def lines(caplog) -> list[str]:
    return [record.getMessage() for record in caplog.records if record.name == "benchnight.security"]


@pytest.fixture
def asker() -> Client:
    return Client(REMOTE_ADDR=ADDRESS)


@pytest.fixture(autouse=True)
def everything(caplog):
    caplog.set_level("INFO", logger="benchnight.security")


def test_passwords_right_and_wrong(group: Group, asker: Client, caplog):
    accounts.set_password(by=group.owner, password=PASSWORD)
    asker.post("/sign-in/", {"name": "person-0", "password": "wrong"})
    asker.post("/sign-in/", {"name": "nobody of this name", "password": "wrong"})
    asker.post("/sign-in/", {"name": "person-0", "password": PASSWORD})
    who, nobody, place = (
        security_log.compute_mark("person-0"),
        security_log.compute_mark("nobody of this name"),
        security_log.compute_mark(ADDRESS),
    )
    wrong = "sign_in.refused way=password reason=account.wrong_sign_in"
    assert lines(caplog) == [
        f"{wrong} account={who} from={place}",
        f"{wrong} account={nobody} from={place}",
        f"sign_in.done way=password account={who} from={place}",
    ]


def test_links_used_and_guessed(group: Group, asker: Client, caplog):
    secret = accounts.issue_sign_in_link(name="person-0")
    for _ in range(2):
        asker.post(f"/sign-in/{secret}/")
    found = lines(caplog)
    assert found[0].startswith(f"sign_in.done way=link account={security_log.compute_mark('person-0')}")
    assert found[1].startswith("sign_in.refused way=link reason=account.link_spent account=- ")


def test_tokens_good_once_a_day_and_bad_each_time(group: Group, asker: Client, caplog):
    good = access_tokens.issue_token(name="person-0", days=1)
    for token in (good, good, "0" * 64):
        asker.get("/api/v1/devices/", headers={"Authorization": f"Token {token}"})
    assert lines(caplog) == [
        f"sign_in.done way=token account={security_log.compute_mark('person-0')} from=-",
        f"sign_in.refused way=token reason=sign_in.bad_token account=- "
        f"from={security_log.compute_mark(ADDRESS)}",
    ]


def test_what_is_not_ones_own_over_both_doors(group: Group, caplog):
    client = signed_in(group.stranger)
    client.get("/steward/")
    client.get(f"/devices/{group.device}/")
    client.get(f"/api/v1/devices/{group.device}/")
    found = lines(caplog)
    who = security_log.compute_mark(group.stranger.name)
    assert len(found) == 3 and all(f"account={who}" in line for line in found), found
    assert all(re.match(r"request\.refused reason=[a-z]+\.[a-z_]+ ", line) for line in found)
    assert f"path=/devices/{group.device}/" in found[1] and "method=GET" in found[1]


def test_forged_forms_large_bodies_and_limits(group: Group, caplog, settings):
    Client(enforce_csrf_checks=True).post("/sign-in/", {"name": "x", "password": "y"})
    too_large = {"CONTENT_LENGTH": str(settings.BENCHNIGHT_BODY_BYTES + 1)}
    Client().generic("POST", "/sign-in/", **too_large)
    Client().generic("POST", "/api/v1/designs/", **too_large)
    settings.BENCHNIGHT_ANONYMOUS_PER_MINUTE = 1
    for _ in range(3):  # the minute may turn in between
        Client(REMOTE_ADDR=ADDRESS).get("/api/v1/bands/")
    reasons = [re.search(r"reason=(\S+)", line)[1] for line in lines(caplog)]
    assert reasons[:3] == ["form.no_token", "request.too_large", "request.too_large"]
    assert set(reasons[3:]) == {"limit.requests"}


def test_an_address_that_there_never_was_is_no_attempt(group: Group, asker: Client, caplog):
    asker.get("/no-such-page/")
    asker.get("/api/v1/no-such-thing/")
    assert lines(caplog) == []


def test_marks_are_told_to_the_servers_owner():
    out = io.StringIO()
    call_command("mark", "Person-0", stdout=out)
    assert out.getvalue().strip() == security_log.compute_mark("person-0")
    assert len(security_log.compute_mark("person-0")) == 12 and security_log.compute_mark(
        "person-0"
    ) != security_log.compute_mark("person-1")


def _written(*, exc_info=None, message: str = "said: %s", args: tuple[object, ...] = ()) -> str:
    record = logging.LogRecord("bench", logging.WARNING, __file__, 1, message, args, exc_info)
    record.created = datetime(2026, 3, 4, 5, 6, 7, tzinfo=UTC).timestamp()
    record.msecs = 89.0
    return logs.LineFormatter(logs.FORMAT, style="{").format(record)


def test_a_line_has_its_time_in_utc_with_the_zone():
    assert _written(args=("x",)) == "2026-03-04T05:06:07.089Z WARNING bench: said: x"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\x0b", "\x85", "\u2028", "\x1b[31m"])
def test_nothing_that_is_sent_begins_a_line(end):
    forged = f"x{end}2026-01-01T00:00:00.000Z INFO benchnight.security: sign_in.done"
    assert len(_written(args=(forged,)).splitlines()) == 1
    assert "\x1b" not in _written(args=(forged,))
    try:
        raise ValueError(forged)
    except ValueError as error:
        written = _written(message="broke", exc_info=(type(error), error, error.__traceback__))
    events = [line for line in written.splitlines() if not line.startswith("    ")]
    assert len(events) == 1
