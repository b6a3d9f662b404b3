"""A member sees where the account is signed in, and ends another session of it; nobody sees a key."""

from __future__ import annotations

import pytest
from django.contrib.sessions.models import Session
from django.test import Client

from measurements.errors import BenchnightError
from measurements.models import AuditEntry
from measurements.services.accounts import accounts, membership
from tests.pages import markup
from tests.pages.conftest import Group, signed_in

PASSWORD = "five lamps over the bench"
ADDRESS = "/account/sessions/"


def offered(client: Client) -> list[str]:
    """The names of the sessions that the page offers to end."""
    return [each.attrs["value"] for each in markup.read(client.get(ADDRESS).content).all("option")]


def test_the_others_are_listed_and_one_is_ended(group: Group):
    here, phone, desk = (signed_in(group.stranger) for _ in range(3))
    signed_in(group.owner)
    phone.get("/account/")
    text = markup.words(here.get(ADDRESS).content)
    assert "3 browsers" in text and text.count("this one") == 2  # once in the table, once in a sentence
    names = offered(here)
    assert len(names) == 2
    assert here.post(ADDRESS, {"session": names[0]})["Location"] == ADDRESS
    left = {client.get("/account/").status_code for client in (phone, desk)}
    assert left == {200, 302} and here.get("/account/").status_code == 200
    assert offered(here) == names[1:]
    assert AuditEntry.objects.filter(action="account.end_session", subject="Ben").count() == 1
    again = here.post(ADDRESS, {"session": names[0]})
    assert again.status_code == 422 and "has-fault" in again.content.decode()


def test_no_key_is_shown(group: Group):
    here, _ = signed_in(group.stranger), signed_in(group.stranger)
    page = here.get(ADDRESS).content.decode()
    assert not [each for each in Session.objects.values_list("session_key", flat=True) if each in page]


def test_ended_and_foreign_ones_are_not_there_and_not_ended(group: Group):
    signed_in(group.stranger)
    accounts.set_password(by=group.stranger, password=PASSWORD)
    here, foreign = signed_in(group.stranger), signed_in(group.owner)
    assert offered(here) == [] and "only this one" in markup.words(here.get(ADDRESS).content)
    signed_in(group.owner)
    theirs = offered(foreign)[0]
    signed_in(group.stranger)
    assert here.post(ADDRESS, {"session": theirs}).status_code == 422
    key = foreign.session.session_key
    with pytest.raises(BenchnightError) as caught:
        membership.end_session(by=group.stranger, key=key)
    assert caught.value.code == "account.no_such_session"
    assert foreign.get("/account/").status_code == 200


def test_ending_one_asks_for_the_present_password(group: Group):
    accounts.set_password(by=group.stranger, password=PASSWORD)
    here, other = signed_in(group.stranger, by_link=False), signed_in(group.stranger)
    typed = {"session": offered(here)[0]}
    assert here.post(ADDRESS, {**typed, "present": "wrong"}).status_code == 422
    assert other.get("/account/").status_code == 200
    assert here.post(ADDRESS, {**typed, "present": PASSWORD}).status_code == 302
    assert other.get("/account/").status_code == 302
