"""A newcomer at the first page: how many clicks to a design that typically meets 20 dB on 80 and 40 m.

The clicks are counted by the page, so that a step more fails here. Seconds are for the eye, never asserted:
`pytest -s` prints them.
"""

from __future__ import annotations

import time

import pytest

from measurements.services.accounts import accounts
from measurements.services.releases import releases
from tests import factories
from tests.browsing import PHONE, wake_chart

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def designs(reference_data: None) -> dict[str, str]:
    """One design that meets 20 dB on 80 and 40 m, one that does not, one that nobody tested."""
    keys = {
        "good": factories.evidence(6, turns=12),
        "weak": factories.evidence(6, turns=4, peak_ohm=300, first=10),
        "bare": factories.design(factories.member("person-0"), turns=20),
    }
    releases.make_release()
    return keys


class Walk:
    """Counts what a reader clicks, and says how long the walk took."""

    def __init__(self, page) -> None:
        self.page, self.clicks, self.began = page, 0, time.monotonic()

    def click(self, locator) -> None:
        locator.click()
        self.clicks += 1

    def ended(self, what: str) -> int:
        print(f"\n{what}: {self.clicks} clicks, {time.monotonic() - self.began:.1f} s")
        return self.clicks


def test_from_the_first_page_to_a_design_for_80_and_40_m(page, designs: dict[str, str]):
    page.set_viewport_size(PHONE)
    walk = Walk(page)
    page.goto("/")
    walk.click(page.locator(".chip", has_text="80m"))
    walk.click(page.locator(".chip", has_text="40m"))
    walk.click(page.get_by_role("button", name="Show designs"))
    first = page.locator("#answer .result").first
    assert "Typically meets" in first.inner_text() and "12 turns" in first.inner_text()
    walk.click(first.get_by_role("link"))
    page.get_by_role("heading", name="80m, 40m together, at 20 dB").wait_for()
    assert designs["good"] in page.url
    assert "Typically meets" in page.locator("#bands").inner_text()
    assert "5–9 devices" in page.locator("#bands").inner_text()  # how sure that is
    assert walk.ended("find and open") == 4


def test_the_list_of_designs_is_no_wider_than_a_phone(page, designs: dict[str, str]):
    """Its heat map scrolls in a frame of its own, the words in it for screen readers too.

    The words are put in here: a cell without figures has them, and every band of this evidence has figures.
    """
    page.set_viewport_size(PHONE)
    page.goto("/designs/")
    unseen = "cell => cell.insertAdjacentHTML('beforeend', '<span class=vh>too few</span>')"
    page.locator("#heat td").last.evaluate(unseen)
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]


def test_find_open_and_compare_with_the_own_build(page, designs: dict[str, str]):
    secret = accounts.issue_sign_in_link(name="person-0")
    page.goto(f"/sign-in/{secret}/")
    page.get_by_role("button", name="Sign in").click()
    walk = Walk(page)
    page.goto("/")
    walk.click(page.locator(".chip", has_text="80m"))
    walk.click(page.locator(".chip", has_text="40m"))
    walk.click(page.get_by_role("button", name="Show designs"))
    walk.click(page.locator("#answer .result").first.get_by_role("link"))
    assert "yours: " in wake_chart(page).text_content()  # the own build over the design's range
    walk.click(page.locator(".after a").first)
    page.get_by_role("heading", name="Where it stands").wait_for()
    assert "6 devices" in page.locator("main").inner_text()
    assert walk.ended("find, open, compare with the own build") == 5


def test_three_designs_side_by_side(page, designs: dict[str, str]):
    walk = Walk(page)
    page.goto("/?band=80m&band=40m")
    walk.click(page.get_by_role("link", name="The same as a table"))
    walk.click(page.get_by_role("link", name="to comparison").first)
    walk.click(page.get_by_role("link", name="to comparison").first)
    walk.click(page.get_by_role("link", name="See 2 side by side"))
    wake_chart(page)
    assert "band=80m" in page.url and page.url.count("design=") == 2
    assert walk.ended("side by side") == 4


def test_by_keyboard_a_chart_is_met_and_says_what_it_is(page, designs: dict[str, str]):
    page.goto(f"/designs/{designs['good']}/")
    place = page.locator(".chart-place").first
    assert place.locator("svg").count() == 0  # its picture, until somebody comes to it
    page.get_by_role("link", name="linear", exact=True).focus()
    page.keyboard.press("Tab")
    place.locator("svg").first.wait_for()
    assert place.evaluate("place => place === document.activeElement")
    assert place.get_attribute("role") == "img" and "Median rejection" in place.get_attribute("aria-label")
    assert place.evaluate("place => getComputedStyle(place).outlineStyle") == "solid"  # the focus is seen
