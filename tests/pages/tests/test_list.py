"""The page of the list of tests: own tests, filters that stay in the address, pages by number."""

from __future__ import annotations

import pytest
from django.test import Client

from measurements.selectors.tests import tests
from tests.pages import markup
from tests.pages.conftest import Group


def listed(client: Client, **words: str) -> list[str]:
    page = markup.read(client.get("/tests/", words).content)
    links = [each.attrs["href"] for each in page.all("a")]
    found = [link.split("/")[2] for link in links if link.startswith("/tests/") and link.count("/") == 3]
    return [key for key in found if key and not key.startswith("?")]


def test_own_tests_are_listed_the_last_first_and_nobody_elses(owner: Client, stranger: Client, group: Group):
    own = [row.key for row in tests.list_tests(group.owner).results]
    assert listed(owner) == own and group.test in own
    assert listed(stranger) == []
    assert "No test yet" in markup.words(stranger.get("/tests/").content)


def test_filters_narrow_the_list_and_stay_chosen(owner: Client, group: Group):
    assert listed(owner, device=group.device) == [group.test]
    assert listed(owner, kind="dc") == []
    assert "No test fits" in markup.words(owner.get("/tests/", {"kind": "dc"}).content)
    page = owner.get("/tests/", {"kind": "common_mode", "device": group.device})
    chosen = [each for each in markup.read(page.content).all("option") if "selected" in each.attrs]
    assert "Common mode" in [each.text for each in chosen]
    assert markup.read(page.content).one("input", name="device").attrs["value"] == group.device


@pytest.mark.parametrize("word", ["kind", "state", "flag", "order", "device", "night"])
def test_a_word_that_is_no_choice_is_said(owner: Client, word: str):
    assert owner.get("/tests/", {word: "no such"}).status_code == 400


def test_a_state_and_a_verdict_are_said_in_words(owner: Client, group: Group):
    words = markup.words(owner.get("/tests/", {"device": group.device}).content)
    row = tests.get_test(group.owner, group.test)
    assert row.published and "in the current release" in words
    assert "1 test fits" in words


def test_the_api_takes_the_same_filters(owner: Client, group: Group):
    found = owner.get(
        "/api/v1/tests/", {"device": group.device, "kind": "common_mode", "order": "measured_on"}
    )
    assert [row["id"] for row in found.json()["results"]] == [group.test]
    assert owner.get("/api/v1/tests/", {"kind": "dc"}).json()["results"] == []
    assert owner.get("/api/v1/tests/", {"state": "none"}).status_code == 400
