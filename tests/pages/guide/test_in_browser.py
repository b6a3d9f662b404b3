"""The guide in a browser: drawings load under the content policy, nothing is cut off, paper is kept tidy."""

from __future__ import annotations

import pytest

from measurements.pages.guide import contents
from tests.browsing import DESK, PHONE

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
TOPICS = [*contents.ENTRIES_BY_KIND, contents.BENCH_TOPIC, contents.FLAGS_TOPIC, contents.SERVICE_TOPIC]


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_drawings_are_seen_and_nothing_is_cut_off(page, reference_data: None, size: dict[str, int]):
    page.set_viewport_size(size)
    for address in ("/guide/", *(f"/guide/{topic}/" for topic in TOPICS)):
        page.goto(address)
        images = page.locator("img.drawing")
        widths = images.evaluate_all("all => all.map(one => [one.naturalWidth, one.clientWidth])")
        assert all(natural == 400 and shown >= 250 for natural, shown in widths), address
        beyond = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert page.evaluate(beyond) <= 0, address


def test_on_paper_the_ways_around_are_gone_and_the_cautions_stay(page, reference_data: None):
    page.goto("/guide/insertion_loss/")
    said = page.locator(".guide-method .print-only")
    assert said.count() == 7 and not said.first.is_visible()
    page.emulate_media(media="print")
    assert all(each.is_visible() for each in said.all())
    assert not page.get_by_role("navigation", name="Guide").is_visible()
    assert not page.get_by_role("link", name="Upload such a test").first.is_visible()
    assert page.locator("img.drawing").first.is_visible()
    together = "all => all.map(one => getComputedStyle(one).breakInside)"
    assert set(page.locator(".wiring").evaluate_all(together)) == {"avoid"}


def test_a_drawing_opens_by_itself(page, reference_data: None):
    page.goto("/guide/drawings/common_mode.sweep.svg")
    assert page.locator("title").text_content() == "Common mode"
