"""The page of the search box: a form, its answers, and the same answers while typing."""

from __future__ import annotations

import pytest
from django.test import Client

from measurements.services.accounts import accounts
from tests import factories
from tests.browsing import PHONE
from tests.pages import markup
from tests.pages.conftest import Group


def links(page: bytes) -> list[str]:
    return [each.attrs["href"] for each in markup.read(page).all("a") if "data-hit" in each.attrs]


def test_every_answer_leads_to_a_page(owner: Client, group: Group):
    reply = owner.get("/search/", {"q": "QX-TAG-77"})
    assert links(reply.content) == [f"/devices/{group.device}/"]
    assert "1 found." in markup.words(reply.content)
    for word in ("QX", "12t coax", "RG-316", "FT240-31", "common mode"):
        found = links(owner.get("/search/", {"q": word}).content)
        assert found, word
        for address in found:
            assert owner.get(address).status_code == 200, address


def test_a_stranger_and_a_visitor_find_nothing_of_it(nobody: Client, stranger: Client):
    for client in (nobody, stranger):
        reply = client.get("/search/", {"q": "QX-TAG-77"})
        assert links(reply.content) == []
        assert "Nothing found" in markup.words(reply.content)


def test_what_was_typed_is_shown_and_is_no_markup(nobody: Client):
    reply = nobody.get("/search/", {"q": '"><script>x</script>'})
    assert b"<script>x" not in reply.content
    assert markup.read(reply.content).one("input", type="search").attrs["value"] == '"><script>x</script>'


def test_the_answers_alone_are_those_of_the_page(owner: Client):
    page = owner.get("/search/", {"q": "12t coax"}).content
    part = owner.get("/search/", {"q": "12t coax", "part": "answers"}).content
    assert links(part) == links(page) != []
    assert b"<html" not in part


def test_the_list_of_designs_takes_the_same_words(nobody: Client, group: Group):
    found = nobody.get("/designs/", {"q": "12t coax FT240-31"}).content
    assert f'href="/designs/{group.design}/' in found.decode()
    assert "1 design." in found.decode()
    assert "No design fits" in markup.words(nobody.get("/designs/", {"q": "13t coax"}).content)
    api = nobody.get("/api/v1/designs/", {"q": "12t coax FT240-31"}).json()
    assert [row["id"] for row in api["results"]] == [group.design] and api["total"] == 1
    assert nobody.get("/api/v1/designs/", {"q": "13t"}).json()["results"] == []


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_on_a_phone_it_answers_while_one_types_and_by_keyboard(page, reference_data):
    ann = factories.member("Ann")
    key = factories.device(ann, tag="HX-7")
    page.set_viewport_size(PHONE)
    page.goto(f"/sign-in/{accounts.issue_sign_in_link(name='Ann')}/")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("link", name="Search", exact=True).click()
    box = page.get_by_label("Find")
    box.press_sequentially("hx-7", delay=20)
    hit = page.get_by_role("link", name="HX-7")
    hit.wait_for()
    assert "1 found." in page.locator("#answers").inner_text()
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
    assert hit.bounding_box()["height"] > 0 and "q=hx-7" in page.url
    page.keyboard.press("ArrowDown")
    assert hit.evaluate("link => link === document.activeElement")
    page.keyboard.press("Escape")
    assert box.evaluate("box => box === document.activeElement")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/devices/{key}/")
