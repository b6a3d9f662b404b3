"""In a browser: from signing in over an upload to looking a design up, on a desk and on a phone."""

from __future__ import annotations

import pytest
from django.conf import settings

from measurements.services.accounts import accounts
from measurements.services.releases import releases
from tests import factories
from tests.browsing import DESK, PHONE, wake_chart

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SWEEP = settings.ROOT / "fixtures/sweeps/choke_one_direction.s2p"


@pytest.fixture
def secret(reference_data: None) -> str:
    factories.evidence(6)
    releases.make_release()
    factories.member("Dora")
    return accounts.issue_sign_in_link(name="Dora")


def overflow(page) -> int:
    return page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_from_the_link_to_the_look_up(page, secret: str, size: dict[str, int]):
    page.set_viewport_size(size)
    page.goto(f"/sign-in/{secret}/")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Dora").wait_for()

    page.get_by_role("link", name="Upload", exact=True).click()
    page.get_by_role("link", name="Common mode").click()
    page.get_by_label("Sweep (S21)").set_input_files(SWEEP)
    page.get_by_role("button", name="Check the result").click()
    page.get_by_text("To be mended").wait_for()
    assert page.get_by_text("Kept: choke_one_direction.s2p").is_visible()

    page.get_by_label("Tag").fill("Dora's first")
    page.get_by_label("Core", exact=True).select_option("2631803802")
    page.get_by_label("Turns").fill("12")
    page.get_by_label("Was the analyser calibrated?").select_option("true")
    page.get_by_role("button", name="Check the result").click()
    page.get_by_text("checked, not saved yet").wait_for()
    wake_chart(page)
    assert overflow(page) <= 0

    page.get_by_role("button", name="Save and publish").click()
    page.get_by_text("The test is saved.").wait_for()
    wake_chart(page, 1)
    assert overflow(page) <= 0

    page.get_by_role("link", name="Find", exact=True).click()
    page.locator(".chip", has_text="40m").click()
    page.locator(".chip", has_text="20m").click()
    page.get_by_role("button", name="Show designs").click()
    page.get_by_text("6 devices").first.wait_for()
    assert overflow(page) <= 0
    page.get_by_role("link", name="12 turns coax").first.click()
    wake_chart(page, 1)
    assert overflow(page) <= 0


def test_by_keyboard_alone(page, secret: str):
    page.goto("/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the content"
    page.keyboard.press("Enter")
    page.get_by_label("40m").focus()
    page.keyboard.press("Space")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="40m at 20 dB").wait_for()


def test_a_chosen_look_is_drawn_in_its_tone(page, secret: str):
    page.goto("/designs/")
    page.get_by_role("button", name="dark").click()
    page.wait_for_load_state()
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(15, 21, 40)"
    with page.expect_response(lambda answer: "tone=dark" in answer.url) as answer:
        page.get_by_role("link", name="12 turns coax").first.click()
    assert answer.value.ok


def test_without_javascript(browser, live_server, secret: str):
    context = browser.new_context(base_url=live_server.url, viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    page.goto("/?band=40m&band=20m")
    page.get_by_role("link", name="12 turns coax").first.click()
    picture = page.locator("figure img").first
    picture.scroll_into_view_if_needed()
    picture.wait_for()
    box = picture.bounding_box()
    assert box["width"] > 200 and box["height"] > 80
    context.close()
