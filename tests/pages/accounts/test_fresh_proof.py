"""What gives a right or carries data away asks once more who is asking; an open browser does neither."""

from __future__ import annotations

import pytest
from django.test import Client

from measurements.models import Member, SignInLink
from measurements.pages.accounts import browser_sessions, reauthentication
from measurements.services.accounts import accounts
from tests.pages import markup
from tests.pages.conftest import Group, signed_in

PASSWORD = "five lamps over the bench"
# address, what is sent, and who sends it
ACTS = {
    "an account": ("/steward/accounts/", {"name": "Newcomer", "role": "member"}, "steward"),
    "a role": ("/steward/account/?name=Ben", {"act": "role", "role": "operator"}, "steward"),
    "a link": ("/steward/account/?name=Ben", {"act": "link"}, "steward"),
    "an opening": ("/steward/account/?name=Ben", {"act": "unsuspend"}, "steward"),
    "a copy of everything": ("/account/copy/", {}, "owner"),
}
TAKING = {
    "suspending": ("/steward/account/?name=Ben", {"act": "suspend"}),
    "revoking": ("/steward/account/?name=Ben", {"act": "revoke"}),
}


def post(client: Client, address: str, typed: dict[str, str]):
    """The answer; a file that comes with it is closed."""
    answer = client.post(address, typed)
    if answer.streaming:
        answer.getvalue()
        answer.close()
    return answer


def state() -> tuple[object, ...]:
    members = tuple(Member.objects.order_by("pk").values_list("name", "role", "is_active"))
    return members, SignInLink.objects.count()


@pytest.fixture(params=ACTS)
def act(request: pytest.FixtureRequest, group: Group):
    """(address, fields, who) with a password of who."""
    address, typed, who = ACTS[request.param]
    viewer = getattr(group, who)
    accounts.set_password(by=viewer, password=PASSWORD)
    if typed.get("act") == "unsuspend":
        Member.objects.filter(name="Ben").update(is_active=False)
    return address, typed, viewer


def test_an_open_session_is_asked_for_the_password_and_nothing_is_lost(act):
    address, typed, viewer = act
    client, before = signed_in(viewer, by_link=False), state()
    asked = post(client, address, typed)
    assert asked.status_code == 403 and state() == before
    page = markup.read(asked.content)
    assert page.one("input", id="id_present").attrs["type"] == "password"
    carried = {
        each.attrs["name"]: each.attrs["value"]
        for each in page.all("input")
        if each.attrs.get("type") == "hidden"
    }
    for of_the_layout in ("csrfmiddlewaretoken", "next"):
        carried.pop(of_the_layout, None)
    assert carried == typed
    wrong = post(client, address, {**typed, "present": "wrong"})
    assert wrong.status_code == 422 and state() == before and "wrong" not in markup.words(wrong.content)
    done = post(client, address, {**carried, "present": PASSWORD})
    assert done.status_code in (200, 302)
    assert done.headers.get("Content-Type") == "application/zip" or state() != before


def test_the_proof_counts_for_a_quarter_of_an_hour(act):
    address, typed, viewer = act
    client = signed_in(viewer, by_link=False)
    for age_s, status in ((browser_sessions.PROOF_S + 5, 403), (browser_sessions.PROOF_S - 60, None)):
        session = client.session
        from time import time

        session[browser_sessions.PROVEN_AT] = time() - age_s
        session.save()
        answer = post(client, address, typed)
        assert answer.status_code == 403 if status else answer.status_code in (200, 302)


def test_signing_in_by_password_is_a_proof(act):
    address, typed, viewer = act
    client = Client()
    assert client.post("/sign-in/", {"name": viewer.name, "password": PASSWORD}).status_code == 302
    assert post(client, address, typed).status_code in (200, 302)


def test_guessing_the_password_here_is_counted_as_at_the_door(act, settings, monkeypatch):
    monkeypatch.setattr("measurements.services.operations.use_counts.time.time", lambda: 1_800_000_030.0)
    address, typed, viewer = act
    client = signed_in(viewer, by_link=False)
    tries = [post(client, address, {**typed, "present": "wrong"}).status_code for _ in range(6)]
    assert tries == [422] * settings.BENCHNIGHT_SIGN_IN_PER_MINUTE + [429]


@pytest.mark.parametrize("taking", TAKING)
def test_taking_a_right_away_asks_for_nothing(group: Group, taking):
    address, typed = TAKING[taking]
    accounts.set_password(by=group.steward, password=PASSWORD)
    assert signed_in(group.steward, by_link=False).post(address, typed).status_code == 302


def without_password(viewer, age_s: int) -> Client:
    client = signed_in(viewer)
    session = client.session
    session[browser_sessions.OPENED_BY_LINK] -= age_s
    session.save()
    return client


@pytest.mark.parametrize(
    ("address", "typed"),
    [("/account/copy/", {}), ("/account/delete/", {"name": "Ben"})],
    ids=["copy", "deletion"],
)
def test_without_a_password_a_link_of_the_last_hour_is_wanted(group: Group, address, typed):
    late = without_password(group.stranger, reauthentication.LINK_PROOF_S + 1)
    refused = post(late, address, typed)
    assert refused.status_code == 403 and "new one-time link" in markup.words(refused.content)
    assert Member.objects.filter(name="Ben").exists()
    in_time = without_password(group.stranger, reauthentication.LINK_PROOF_S - 60)
    assert post(in_time, address, typed).status_code in (200, 302)


def test_deleting_with_a_password_asks_for_it_each_time(group: Group):
    accounts.set_password(by=group.stranger, password=PASSWORD)
    client = Client()
    client.post("/sign-in/", {"name": "Ben", "password": PASSWORD})
    assert client.post("/account/delete/", {"name": "Ben"}).status_code == 422
    assert Member.objects.filter(name="Ben").exists()
