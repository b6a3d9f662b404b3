"""From the first page to an answer for a 49:1 on 80, 40, 20 and 10 m: the clicks are counted by the page."""

from __future__ import annotations

import pytest

from measurements.services.releases import releases
from tests import factories, ratio_benches
from tests.browsing import PHONE
from tests.pages.find.test_newcomer import Walk

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
BANDS = ("80m", "40m", "20m", "10m")


@pytest.fixture
def unun(reference_data: None) -> str:
    """A 49:1 that six people measured, and a choke that six people measured, which is no answer."""
    factories.evidence(6)
    key = ratio_benches.evidence(6)
    releases.make_release()
    return key


def test_a_49_to_1_for_four_bands_is_judged_by_loss_within_eight_clicks(page, unun: str):
    page.set_viewport_size(PHONE)
    walk = Walk(page)
    page.goto("/", timeout=60_000)  # a first page on a busy machine
    for band in BANDS:
        walk.click(page.locator(f'.chip:has(input[value="{band}"])'))
    page.get_by_label("What it is for").select_option("unun")
    walk.clicks += 1
    walk.click(page.get_by_text("Ratio and benchmark"))
    walk.click(page.get_by_label("Ratio"))
    page.keyboard.type("49:1")
    walk.click(page.get_by_role("button", name="Show designs"))
    page.get_by_role("heading", name="80m, 40m, 20m, 10m at most 0.5 dB of loss").wait_for()
    (found,) = page.locator("#answer .result").all()
    said = found.inner_text()
    assert "49:1" in said and "Typically meets" in said and "within 0.5 dB of loss" in said
    assert page.get_by_role("link", name="Match (SWR)").is_visible()
    assert walk.ended("a 49:1 for four bands") == 8
    assert unun in found.get_by_role("link").get_attribute("href")
