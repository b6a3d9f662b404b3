"""Whoever makes a new way into an account shows once more who is asking; an open browser alone makes none."""

from __future__ import annotations

import re

import pytest
from django.conf import settings
from django.test import Client

from measurements.models import CalendarFeed, Member, token_table
from measurements.pages.accounts import browser_sessions, reauthentication
from measurements.services.accounts import accounts
from tests.pages import markup
from tests.pages.conftest import Group, signed_in

PASSWORD = "five lamps over the bench"
NEW = "ten lamps over the bench"
# the forms that make a way in: their address, what is typed, and what the account has after it
FORMS = {
    "token": ("/account/tokens/", {"label": "plotter", "scope": "read", "days": "90"}),
    "calendar": ("/account/calendar/", {"do": "make", "label": "phone"}),
    "password": ("/account/", {"password": NEW, "again": NEW}),
}


def ways(name: str = "Ben") -> tuple[int, int, str]:
    """What of an account lets somebody in: tokens, calendar addresses, the hash of the password."""
    member = Member.objects.get(name=name)
    feeds = CalendarFeed.objects.filter(member=member).count()
    return token_table.get_token_manager().filter(user=member).count(), feeds, member.password


@pytest.fixture(params=FORMS)
def form(request: pytest.FixtureRequest) -> tuple[str, dict[str, str]]:
    return FORMS[request.param]


def aged(client: Client, seconds: int) -> Client:
    session = client.session
    session[browser_sessions.OPENED_BY_LINK] -= seconds
    session.save()
    return client


def test_the_present_password_is_asked_for(group: Group, form):
    address, typed = form
    accounts.set_password(by=group.stranger, password=PASSWORD)
    client, before = signed_in(group.stranger, by_link=False), ways()
    assert markup.read(client.get(address).content).one("input", id="id_present").attrs["type"] == "password"
    for present in ({}, {"present": ""}, {"present": "wrong"}):
        refused = client.post(address, {**typed, **present})
        assert refused.status_code == 422 and "has-fault" in refused.content.decode()
        assert ways() == before
    answer = client.post(address, {**typed, "present": PASSWORD})
    assert answer.status_code in (200, 302) and ways() != before
    assert PASSWORD not in answer.content.decode()


def test_a_link_of_a_quarter_of_an_hour_shows_as_much(group: Group, form):
    address, typed = form
    accounts.set_password(by=group.stranger, password=PASSWORD)
    late, before = aged(signed_in(group.stranger), browser_sessions.LINK_SESSION_S + 1), ways()
    assert late.post(address, typed).status_code == 422 and ways() == before
    assert signed_in(group.stranger).post(address, typed).status_code in (200, 302) and ways() != before


def test_without_a_password_a_link_of_the_last_hour_is_wanted(group: Group, form):
    address, typed = form
    client, before = aged(signed_in(group.stranger), reauthentication.LINK_PROOF_S + 1), ways()
    page = client.get(address).content
    assert "sign in by a new one-time link" in markup.words(page) and b'id="id_present"' not in page
    assert client.post(address, typed).status_code == 403 and ways() == before
    in_time = aged(signed_in(group.stranger), reauthentication.LINK_PROOF_S - 60)
    assert in_time.post(address, typed).status_code in (200, 302) and ways() != before


@pytest.mark.parametrize(
    "typed", [{"name": "Ben", "password": "wrong"}, {"present": "wrong", **FORMS["token"][1]}]
)
def test_tries_are_counted_together_wherever_they_are_made(group: Group, typed, monkeypatch):
    monkeypatch.setattr("measurements.services.operations.use_counts.time.time", lambda: 1_800_000_030.0)
    accounts.set_password(by=group.stranger, password=PASSWORD)
    client = signed_in(group.stranger, by_link=False)
    address = "/account/delete/" if "name" in typed else "/account/tokens/"
    for _ in range(settings.BENCHNIGHT_SIGN_IN_PER_MINUTE):
        assert client.post(address, typed).status_code == 422
    refused = client.post(address, typed)
    assert refused.status_code == 429 and 0 < int(refused["Retry-After"]) <= 60
    assert Client().post("/sign-in/", {"name": "Ben", "password": PASSWORD}).status_code == 429


def test_revoking_asks_for_nothing(group: Group):
    """Who takes a way in away is not held up."""
    client = signed_in(group.owner, by_link=False)
    feed = re.search(r'name="feed" value="(\w+)"', client.get("/account/calendar/").content.decode())[1]
    assert client.post("/account/calendar/", {"do": "revoke", "feed": feed}).status_code == 302
