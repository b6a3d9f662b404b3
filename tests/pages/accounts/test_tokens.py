"""The page of access tokens: made and shown once, listed, revoked; each member its own."""

from __future__ import annotations

import re

import pytest
from django.test import Client

from measurements.services.accounts import access_tokens
from tests.pages import markup
from tests.pages.conftest import Group, signed_in

FORM = {"label": "the plotter's twin", "scope": "read", "days": "90"}


def made(group: Group, **changes: str) -> tuple[Client, str]:
    client = signed_in(group.owner)
    answer = client.post("/account/tokens/", {**FORM, **changes})
    assert answer.status_code == 200 and "no-store" in answer["Cache-Control"]
    (token,) = re.findall(r'<code id="token">([0-9a-f]{64})</code>', answer.content.decode())
    return client, token


def devices(token: str, method: str = "get"):
    headers = {"Authorization": f"Token {token}"}
    return getattr(Client(), method)("/api/v1/devices/", headers=headers)


def test_made_shown_once_and_good_for_what_was_chosen(group: Group):
    client, token = made(group)
    assert devices(token).status_code == 200
    assert devices(token, "post").status_code == 403
    page = client.get("/account/tokens/").content.decode()
    assert token not in page and f"{token[:8]}…" in page and "twin" in page


def test_one_for_uploading(group: Group):
    _, token = made(group, scope="upload")
    assert devices(token, "post").status_code == 415  # it got as far as its body


def test_the_day_of_the_last_use_is_shown(group: Group):
    client, token = made(group)
    assert "never" in markup.words(client.get("/account/tokens/").content)
    devices(token)
    assert "never" not in markup.words(client.get("/account/tokens/").content)


def test_several_of_which_one_is_revoked(group: Group):
    client, first = made(group)
    _, second = made(group, label="drawing board")
    answer = client.post("/account/tokens/revoke/", {"token": first[:15]})
    assert answer["Location"] == "/account/tokens/"
    assert devices(first).status_code == 401 and devices(second).status_code == 200
    page = client.get("/account/tokens/").content.decode()
    assert "drawing board" in page and "plotter" not in page


def test_nobody_revokes_or_sees_anothers(group: Group):
    _, token = made(group)
    stranger = signed_in(group.stranger)
    assert stranger.post("/account/tokens/revoke/", {"token": token[:15]}).status_code == 404
    assert token[:8] not in stranger.get("/account/tokens/").content.decode()
    assert devices(token).status_code == 200


@pytest.mark.parametrize(
    "changes", [{"label": ""}, {"label": "x" * 65}, {"scope": "admin"}, {"days": "99999"}, {"days": "x"}]
)
def test_what_is_wrong_is_said_and_nothing_is_made(group: Group, changes: dict[str, str]):
    client = signed_in(group.owner)
    answer = client.post("/account/tokens/", {**FORM, **changes})
    assert answer.status_code == 422 and "has-fault" in answer.content.decode()
    assert "You have none." in client.get("/account/tokens/").content.decode()


def test_there_is_an_end_to_them(group: Group, monkeypatch):
    monkeypatch.setattr(access_tokens, "MOST_TOKENS", 1)
    client, _ = made(group)
    answer = client.post("/account/tokens/", FORM)
    assert answer.status_code == 422 and "revoke one first" in answer.content.decode()
