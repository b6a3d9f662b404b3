"""Signing in and out, the one-time link, the password, and what is published of one."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.contrib.sessions.models import Session
from django.test import Client
from django.utils import timezone

from deploy import middleware
from measurements.selectors.evidence import evidence
from measurements.services.accounts import accounts
from measurements.services.releases import releases
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group, signed_in

PASSWORD = "five lamps over the bench"


def with_password(group: Group) -> None:
    accounts.set_password(by=group.owner, password=PASSWORD)


def test_name_and_password_open_the_account(group: Group):
    with_password(group)
    client = Client()
    answer = client.post("/sign-in/", {"name": "person-0", "password": PASSWORD, "next": "/devices/"})
    assert answer.status_code == 302 and answer["Location"] == "/devices/"
    assert client.get("/account/").status_code == 200


def test_a_wrong_password_keeps_the_name(group: Group):
    with_password(group)
    answer = Client().post("/sign-in/", {"name": "person-0", "password": "wrong"})
    assert answer.status_code == 422
    page = markup.read(answer.content)
    assert "do not go together" in markup.words(answer.content)
    assert page.one("input", name="name").attrs["value"] == "person-0"
    assert "value" not in page.one("input", name="password").attrs


def test_trying_too_often_is_refused_with_a_time(group: Group, monkeypatch):
    # no minute turns in the middle
    monkeypatch.setattr("measurements.services.operations.use_counts.time.time", lambda: 1_700_000_010.0)
    client = Client()
    for _ in range(settings.BENCHNIGHT_SIGN_IN_PER_MINUTE):
        client.post("/sign-in/", {"name": "person-0", "password": "wrong"})
    answer = client.post("/sign-in/", {"name": "person-0", "password": "wrong"})
    assert answer.status_code == 429
    assert 0 < int(answer["Retry-After"]) <= 60
    assert client.post("/sign-in/", {"name": "Ben", "password": "wrong"}).status_code == 422


def tries(client: Client, names: list[str], addresses: list[str]) -> list[int]:
    """Status of one wrong try after the other, from as many addresses."""
    return [
        client.post("/sign-in/", {"name": name, "password": "wrong"}, REMOTE_ADDR=address).status_code
        for name, address in zip(names, addresses, strict=True)
    ]


def test_one_address_cannot_try_every_account_nor_many_addresses_one(reference_data, settings, monkeypatch):
    """The clock stands still, so that no minute turns in between."""
    settings.BENCHNIGHT_SIGN_IN_PER_MINUTE = 1
    monkeypatch.setattr("measurements.services.operations.use_counts.time.time", lambda: 1_800_000_030.0)
    most, of_a_network = 6, 12
    many = [f"192.0.2.{number}" for number in range(most + 1)]
    names = [f"nobody-{number}" for number in range(of_a_network + 1)]
    spread = tries(Client(), names, ["198.51.100.7"] * len(names))
    assert spread == [422] * of_a_network + [429]
    assert tries(Client(), ["Person-0"] * (most + 1), many) == [422] * most + [429]
    assert tries(Client(), ["Ben"], ["203.0.113.9"]) == [422]


def test_no_sign_in_leads_elsewhere(group: Group):
    with_password(group)
    given = {"name": "person-0", "password": PASSWORD, "next": "https://elsewhere.example/"}
    assert Client().post("/sign-in/", given)["Location"] == "/"


def test_a_link_is_used_by_pressing_not_by_looking(group: Group):
    secret = accounts.issue_sign_in_link(name="person-0")
    client = Client()
    for _ in range(3):
        assert client.get(f"/sign-in/{secret}/").status_code == 200
    answer = client.post(f"/sign-in/{secret}/")
    assert answer.status_code == 302 and answer["Location"] == "/account/"
    assert client.get("/account/").status_code == 200
    again = Client().post(f"/sign-in/{secret}/")
    words = markup.words(again.content)
    assert again.status_code == 403 and "used already" in words and "This link signs nobody in" in words


def test_signing_in_changes_the_session_key(group: Group):
    with_password(group)
    client = Client()
    client.post("/look/", {"look": "dark"})
    client.session.save()
    before = client.cookies.get("session")
    client.post("/sign-in/", {"name": "person-0", "password": PASSWORD})
    assert client.cookies["session"].value != (before.value if before else None)


def test_who_signs_in_again_gets_another_session_and_the_old_one_is_gone(group: Group):
    with_password(group)
    client = Client()
    keys = []
    for _ in range(2):
        client.post("/sign-in/", {"name": "person-0", "password": PASSWORD})
        keys.append(client.cookies["session"].value)
    assert keys[0] != keys[1]
    old = Client()
    old.cookies["session"] = keys[0]
    assert old.get("/account/").status_code == 302 and client.get("/account/").status_code == 200


def test_signing_out(owner: Client):
    left = owner.post("/sign-out/")
    assert left.status_code == 302 and left["Clear-Site-Data"] == '"cache", "storage"'
    assert owner.get("/account/").status_code == 302


def aged(client: Client, **ago: timedelta) -> Client:
    """The same browser after its session was opened, or last renewed, so long ago."""
    session = client.session
    for name, since in ago.items():
        session[name] = (timezone.now() - since).timestamp()
    session.save()
    return client


def test_a_session_in_use_ends_thirty_days_after_it_was_opened(owner: Client):
    assert (
        aged(owner, opened=middleware.MAX_SESSION_AGE - timedelta(hours=1)).get("/account/").status_code
        == 200
    )
    assert (
        aged(owner, opened=middleware.MAX_SESSION_AGE + timedelta(seconds=1)).get("/account/").status_code
        == 302
    )
    assert owner.get("/account/").status_code == 302
    assert not Session.objects.exists()


def test_a_session_is_renewed_by_use_once_a_day_and_ends_unused_after_two_weeks(owner: Client):
    assert owner.get("/account/").cookies["session"]["max-age"] == 14 * 24 * 3600
    assert "session" not in owner.get("/account/").cookies
    assert "session" in aged(owner, renewed=timedelta(hours=25)).get("/account/").cookies
    Session.objects.update(expire_date=timezone.now() - timedelta(seconds=1))
    assert owner.get("/account/").status_code == 302


def test_a_new_password_goes_on_here_and_ends_other_sessions(group: Group):
    here, elsewhere = signed_in(group.owner), signed_in(group.owner)
    assert here.post("/account/", {"password": PASSWORD, "again": PASSWORD}).status_code == 302
    assert here.get("/account/").status_code == 200
    assert elsewhere.get("/account/").status_code == 302


def test_weak_and_unequal_passwords_are_refused_beside_the_field(owner: Client):
    answer = owner.post("/account/", {"password": "short", "again": "short"})
    assert answer.status_code == 422 and "too short" in markup.words(answer.content)
    answer = owner.post("/account/", {"password": PASSWORD, "again": "something else"})
    assert answer.status_code == 422 and "The two are not the same" in markup.words(answer.content)
    assert PASSWORD not in answer.content.decode()


def test_exactly_what_is_published_of_one(owner: Client, group: Group):
    rows = evidence.list_published_rows(group.owner)
    content = owner.get("/account/").content
    assert len(rows) == len(markup.read(content).all("table")) == 2
    assert [row.device_tag for row in rows] == sorted(row.device_tag for row in rows)
    band = rows[0].bands[0]
    assert f"{band['rejection_worst_db']:.1f}" in markup.words(content)


def test_nothing_is_published_of_a_stranger(stranger: Client):
    assert "The current release holds nothing of yours" in markup.words(stranger.get("/account/").content)


def test_who_has_more_devices_than_may_vote_is_told(owner: Client, stranger: Client, group: Group):
    assert "tested devices of" not in markup.words(owner.get("/account/").content)  # two, of three that may
    for index in range(3):
        device = factories.device(group.owner, group.design, tag=f"more-{index}")
        factories.record(group.owner, device, factories.choke_s2p(seed=400 + index, points=51))
    said = markup.words(owner.get("/account/").content)
    assert "3 of your 5 tested devices of 12 turns" in said
    assert "tested devices of" not in markup.words(stranger.get("/account/").content)
    releases.make_release()
    assert len({row.device for row in evidence.list_published_rows(group.owner)}) <= 3
