"""Refusals have the look of the site and a sentence that helps."""

from __future__ import annotations

import pytest
from django.test import Client, override_settings

from tests.pages import markup
from tests.pages.conftest import Group, signed_in


def test_unknown_address(nobody: Client):
    answer = nobody.get("/no/such/page/")
    assert answer.status_code == 404
    assert "There is nothing here" in markup.words(answer.content)


def test_unknown_design(nobody: Client):
    answer = nobody.get("/designs/222222222222/")
    assert answer.status_code == 404
    assert "There is no such design" in markup.words(answer.content)


def test_a_bad_cursor_says_what_to_do(owner: Client, group: Group):
    answer = owner.get(f"/devices/{group.device}/?cursor=nonsense")
    assert answer.status_code == 400
    assert "Begin again without it" in markup.words(answer.content)


def test_too_many_fields(nobody: Client):
    answer = nobody.post("/sign-in/", {f"field{number}": "x" for number in range(300)})
    assert answer.status_code == 413
    assert "Too much at once" in markup.words(answer.content)


@override_settings(BENCHNIGHT_BODY_BYTES=1000)
def test_a_body_that_is_too_large_is_a_page(nobody: Client):
    answer = nobody.post("/sign-in/", {"name": "x" * 2000})
    assert answer.status_code == 413
    assert "Too much at once" in markup.words(answer.content)


@override_settings(DEBUG=False)
def test_a_defect_of_ours_is_a_page_too(group: Group, monkeypatch: pytest.MonkeyPatch):
    from measurements.selectors.releases import releases

    def broken():
        raise RuntimeError("a defect with a secret in it")

    monkeypatch.setattr(releases, "get_current_release", broken)
    client = signed_in(group.owner)
    client.raise_request_exception = False
    answer = client.get("/data/")
    assert answer.status_code == 500
    text = answer.content.decode()
    assert "Something broke on our side" in text and "secret" not in text


def test_the_look_is_remembered_and_leads_back(nobody: Client):
    answer = nobody.post("/look/", {"look": "dark", "next": "/guide/"})
    assert answer.status_code == 302 and answer["Location"] == "/guide/"
    assert markup.read(nobody.get("/guide/").content).one("html").attrs["data-look"] == "dark"


@pytest.mark.parametrize(
    "wanted", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"]
)
def test_no_redirect_leaves_the_site(nobody: Client, wanted: str):
    assert nobody.post("/look/", {"look": "dark", "next": wanted})["Location"] == "/"


def test_an_unknown_look_is_not_stored(nobody: Client):
    assert "look" not in nobody.post("/look/", {"look": "<script>"}).cookies
