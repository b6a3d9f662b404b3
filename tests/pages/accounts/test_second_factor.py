"""Signing in with a second factor, and being led to one: no door opens before, and nobody is locked out."""

from __future__ import annotations

import time

import pytest
from cryptography.hazmat.primitives.hashes import SHA1
from cryptography.hazmat.primitives.twofactor.totp import TOTP
from django.test import Client

from measurements.models import CodeApp, Member, RecoveryCode
from measurements.pages.accounts import factor_views
from measurements.services.accounts import accounts, factor_secrets, membership, recovery_codes
from tests.pages import markup
from tests.pages.conftest import Group, signed_in

PASSWORD = "five lamps over the bench"
SECRET = b"12345678901234567890"


def code_now() -> str:
    return TOTP(SECRET, 6, SHA1(), 30).generate(time.time()).decode()


def give_app(viewer, password: str = PASSWORD) -> None:
    if password:
        accounts.set_password(by=viewer, password=password)
    CodeApp.objects.create(member_id=viewer.member_id, secret_encrypted=factor_secrets.encrypt(SECRET))


def send_password(viewer, wanted: str = "/devices/") -> tuple[Client, str]:
    client = Client()
    answer = client.post("/sign-in/", {"name": viewer.name, "password": PASSWORD, "next": wanted})
    assert answer.status_code == 302
    return client, answer["Location"]


def is_in(client: Client) -> bool:
    return client.get("/devices/").status_code == 200


def test_the_password_alone_opens_nothing_and_the_code_goes_on(group: Group):
    give_app(group.owner)
    client, led_to = send_password(group.owner)
    assert led_to == "/sign-in/second/" and not is_in(client)
    assert client.get("/api/v1/devices/").status_code == 401
    assert client.post(led_to, {"factor_code": "000000"}).status_code == 422 and not is_in(client)
    assert client.post(led_to, {}).status_code == 422 and not is_in(client)
    done = client.post(led_to, {"factor_code": code_now()})
    assert done.status_code == 302 and done["Location"] == "/devices/" and is_in(client)


def test_a_first_step_lasts_ten_minutes_and_is_of_one_browser(group: Group):
    give_app(group.owner)
    client, led_to = send_password(group.owner)
    assert Client().post(led_to, {"factor_code": code_now()})["Location"] == "/sign-in/"
    session = client.session
    session["second_step"] = {**session["second_step"], "since": time.time() - 601}
    session.save()
    assert client.post(led_to, {"factor_code": code_now()})["Location"] == "/sign-in/"
    assert not is_in(client)


def test_a_suspended_account_does_not_take_the_second_step(group: Group):
    give_app(group.owner)
    client, led_to = send_password(group.owner)
    membership.suspend_member(by=group.steward, name=group.owner.name)
    assert client.post(led_to, {"factor_code": code_now()})["Location"] == "/sign-in/" and not is_in(client)


def test_a_recovery_code_opens_once(group: Group):
    give_app(group.owner)
    code = recovery_codes.renew_recovery_codes(by=group.owner)[3]
    client, led_to = send_password(group.owner)
    client.post(led_to, {"factor_code": code})
    assert is_in(client)
    again, led_to = send_password(group.owner)
    assert again.post(led_to, {"factor_code": code}).status_code == 422 and not is_in(again)


def test_tries_are_counted_as_at_the_door(group: Group, settings, monkeypatch):
    monkeypatch.setattr("measurements.services.operations.use_counts.time.time", lambda: 1_800_000_030.0)
    give_app(group.owner)
    client, led_to = send_password(group.owner)  # the first of the minute
    tries = [client.post(led_to, {"factor_code": "000000"}).status_code for _ in range(5)]
    assert tries == [422] * (settings.BENCHNIGHT_SIGN_IN_PER_MINUTE - 1) + [429]


def test_a_steward_s_link_needs_the_second_step_and_the_server_s_does_not(group: Group):
    give_app(group.owner, password="")
    for secret, opens in (
        (membership.reissue_sign_in_link(by=group.steward, name=group.owner.name), False),
        (accounts.issue_sign_in_link(name=group.owner.name), True),
    ):
        client = Client()
        client.post(f"/sign-in/{secret}/")
        assert is_in(client) is opens
    client = Client()
    client.post(f"/sign-in/{membership.reissue_sign_in_link(by=group.steward, name=group.owner.name)}/")
    client.post("/sign-in/second/", {"factor_code": code_now()})
    assert is_in(client) and client.get("/account/")


@pytest.fixture
def demanded(settings) -> None:
    settings.BENCHNIGHT_SECOND_FACTOR_FOR = ("operator", "steward")


WAITING_PAGES = ("/", "/devices/", "/steward/", "/steward/accounts/", "/account/", "/designs/")


@pytest.mark.usefixtures("demanded")
def test_a_steward_without_one_is_led_to_set_it_up_and_goes_on(group: Group):
    client = signed_in(group.steward)
    for address in WAITING_PAGES:
        assert client.get(address)["Location"] == "/account/second-factor/", address
    refused = client.post("/steward/accounts/", {"name": "Newcomer", "role": "steward"})
    assert refused.status_code == 302 and not Member.objects.filter(name="Newcomer").exists()
    assert client.get("/api/v1/devices/").status_code == 401, "the API knows no waiting session"
    assert "needs a second factor" in markup.words(client.get("/account/second-factor/").content)
    client.get("/account/second-factor/app/")
    session = client.session
    session[factor_views.NEW_APP] = factor_secrets.encrypt(SECRET)
    session.save()
    assert client.post("/account/second-factor/app/", {"code": "000000"}).status_code == 422
    made = client.post("/account/second-factor/app/", {"code": code_now()})
    words = markup.words(made.content)
    assert made.status_code == 200 and "Recovery codes" in words and RecoveryCode.objects.count() == 10
    assert made["Cache-Control"].find("no-store") >= 0
    assert client.get("/steward/").status_code == 200


@pytest.mark.usefixtures("demanded")
def test_an_old_session_of_who_has_one_shows_it_and_cannot_change_it(group: Group):
    give_app(group.steward)
    client = signed_in(group.steward)
    assert client.get("/steward/")["Location"] == "/sign-in/second/"
    assert client.post("/account/second-factor/", {"act": "remove_app"}).status_code == 403
    assert client.get("/account/second-factor/app/").status_code == 403 and CodeApp.objects.exists()
    client.post("/sign-in/second/", {"factor_code": code_now()})
    assert client.get("/steward/").status_code == 200


@pytest.mark.usefixtures("demanded")
def test_members_are_not_led_anywhere_and_everybody_gets_out(group: Group):
    assert is_in(signed_in(group.owner))
    client = signed_in(group.steward)
    assert client.post("/sign-out/")["Location"] == "/"
    assert client.get("/").status_code == 200


@pytest.mark.usefixtures("demanded")
def test_the_server_s_link_lets_a_steward_in_whose_phone_is_lost(group: Group):
    give_app(group.steward)
    client = Client()
    client.post(f"/sign-in/{accounts.issue_sign_in_link(name=group.steward.name)}/")
    assert client.get("/steward/").status_code == 200


@pytest.mark.usefixtures("demanded")
def test_a_new_password_keeps_what_was_shown(group: Group):
    give_app(group.steward)
    client, led_to = send_password(group.steward, "/steward/")
    client.post(led_to, {"factor_code": code_now()})
    new = "ten lamps over the bench"
    sent = {"present": PASSWORD, "password": new, "again": new}
    assert client.post("/account/", sent).status_code == 302
    assert client.get("/steward/").status_code == 200


def test_a_code_is_a_fresh_proof(group: Group):
    give_app(group.steward)
    client = signed_in(group.steward, by_link=False)
    act = {"name": "Newcomer", "role": "member"}
    asked = client.post("/steward/accounts/", act)
    assert asked.status_code == 403 and b'name="factor_code"' in asked.content
    assert client.post("/steward/accounts/", {**act, "factor_code": "000000"}).status_code == 422
    assert not Member.objects.filter(name="Newcomer").exists()
    assert client.post("/steward/accounts/", {**act, "factor_code": code_now()}).status_code == 200
    assert Member.objects.filter(name="Newcomer").exists()


def test_an_account_without_a_password_shows_its_code_in_place_of_a_link(group: Group):
    give_app(group.owner, password="")
    client = signed_in(group.owner, by_link=False)
    asked = client.post("/account/copy/")
    assert asked.status_code == 403 and b'name="present"' not in asked.content
    assert client.post("/account/copy/", {"present": ""}).status_code == 403
    copied = client.post("/account/copy/", {"factor_code": code_now()})
    assert copied.status_code == 200 and copied["Content-Type"] == "application/zip"
    copied.getvalue()
    copied.close()


@pytest.mark.parametrize("act", ["remove_app", "recovery"])
def test_changing_factors_asks_who_is_there(group: Group, act):
    give_app(group.owner)
    client = signed_in(group.owner, by_link=False)
    assert client.post("/account/second-factor/", {"act": act}).status_code == 403
    assert CodeApp.objects.exists() and not RecoveryCode.objects.exists()
    done = client.post("/account/second-factor/", {"act": act, "present": PASSWORD})
    assert done.status_code in (200, 302) and CodeApp.objects.exists() is (act == "recovery")


def test_a_steward_takes_it_off_after_a_fresh_proof(group: Group):
    give_app(group.owner)
    accounts.set_password(by=group.steward, password=PASSWORD)
    client = signed_in(group.steward, by_link=False)
    where = f"/steward/account/?name={group.owner.name}"
    assert client.post(where, {"act": "factors"}).status_code == 403 and CodeApp.objects.exists()
    assert client.post(where, {"act": "factors", "present": PASSWORD}).status_code == 302
    assert not CodeApp.objects.exists()


def test_tokens_of_the_command_need_none(group: Group, demanded, capsys):
    from django.core.management import call_command

    call_command("token", group.steward.name)
    token = capsys.readouterr().out.strip()
    answer = Client().get("/api/v1/devices/", headers={"authorization": f"Token {token}"})
    assert answer.status_code == 200
