"""The first evening: five steps on one page, and the demo that goes in one step."""

from __future__ import annotations

import pytest
from django.test import Client

from measurements.models import group_facts
from measurements.services.reference import fact_changes
from tests import factories
from tests.pages import markup
from tests.pages.conftest import signed_in


@pytest.fixture
def steward(db):
    return factories.member("Vera", role="steward")


@pytest.fixture
def browser(steward) -> Client:
    return signed_in(steward)


def test_an_empty_group_opens_with_five_steps_and_each_is_done_on_its_page(browser: Client, steward):
    home = markup.words(browser.get("/").content)
    assert "Set up the group" in home and "5 steps of the first evening are open" in home
    for form in (
        {"act": "name", "group_name": "Harbour group"},
        {"act": "place", "region": "1", "time_zone": "Europe/Lisbon"},
        {"act": "licence", "licence": "CC-BY-4.0"},
    ):
        answer = browser.post("/steward/start/", form)
        assert answer.status_code == 302, markup.words(answer.content)
    page = browser.get("/steward/start/").content.decode()
    assert "3 of 5 done" in page and "<small>Harbour group</small>" in page
    assert group_facts.get_data_terms() == ("Harbour group", "CC-BY-4.0")
    for name, role in (("Walter", "steward"), ("Mia", "member")):
        assert (
            "/sign-in/" in browser.post("/steward/accounts/", {"name": name, "role": role}).content.decode()
        )
    assert "5 of 5 done" in markup.words(browser.get("/steward/start/").content)
    assert "Set up the group" not in markup.words(browser.get("/").content)


@pytest.mark.parametrize(
    "form",
    [
        {"act": "name", "group_name": ""},
        {"act": "place", "region": "9", "time_zone": "Europe/Lisbon"},
        {"act": "place", "region": "1", "time_zone": "Nowhere"},
        {"act": "licence"},
        {"act": "licence", "licence": "other", "other": "x" * 401},
    ],
)
def test_a_fault_is_said_and_nothing_typed_is_lost(browser: Client, form):
    answer = browser.post("/steward/start/", form)
    assert answer.status_code == 422 and group_facts.read_group_facts() == {}
    typed = {each.attrs.get("value") for each in markup.read(answer.content).all("input")}
    assert {form[name] for name in ("group_name", "time_zone", "other") if name in form} <= typed | {""}


def test_days_are_of_the_groups_zone(browser: Client, steward):
    fact_changes.change_group_facts(by=steward, time_zone="Pacific/Kiritimati")
    assert "+14" in markup.words(browser.get("/steward/start/").content)


def test_every_page_says_that_the_demo_is_invented(browser: Client, steward):
    group_facts.keep_group_facts({"demo": True}, for_s=60)
    for address in ("/", "/designs/", "/guide/", "/steward/"):
        page = browser.get(address).content.decode()
        assert 'here are invented. <a href="/steward/demo/">Remove them</a>' in page, address
    assert "Store no real tests before a steward has removed them" in Client().get("/").content.decode()
