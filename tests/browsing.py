"""A headless Chromium for the page tests.

`page` is a fresh page whose test fails when the page asked another host for anything, broke the
content policy or raised a script error: those are promises of every page, not of single tests.
"""

from __future__ import annotations

import os
import re
import shutil

import pytest
from playwright.sync_api import Locator, Page, expect

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
ARGUMENTS = [
    "--no-sandbox",
    "--disable-dev-shm-usage",
    "--disable-gpu",
    "--disable-background-networking",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1, EXCLUDE localhost",
]
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}


def browser_path() -> str:
    """The installed browser; without one the test is skipped, or fails where a browser is required."""
    for name in BROWSERS:
        if found := shutil.which(name):
            return found
    reason = f"no browser is installed: looked for {', '.join(BROWSERS)}"
    if os.environ.get("BENCHNIGHT_REQUIRE_BROWSER") == "1":
        pytest.fail(f"{reason}, and BENCHNIGHT_REQUIRE_BROWSER=1 asks for one")
    pytest.skip(reason)


@pytest.fixture(scope="module")
def browser(django_db_blocker):
    """One browser for a test module.

    Playwright keeps an event loop on this thread, which makes Django refuse the database: the guard
    is lifted while the browser is open. Nothing else runs in that loop. Django also keeps one connection
    for a thread with a loop and another for the same thread without: no scene may outlast the change.
    """
    from playwright.sync_api import sync_playwright

    from tests import scenes

    path = browser_path()
    patch = pytest.MonkeyPatch()
    patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
    with django_db_blocker.unblock():
        scenes.leave_last()
    try:
        with sync_playwright() as playwright:
            chromium = playwright.chromium.launch(executable_path=path, args=ARGUMENTS, headless=True)
            yield chromium
            chromium.close()
            with django_db_blocker.unblock():
                scenes.leave_last()
    finally:
        patch.undo()


@pytest.fixture
def page(browser, live_server):
    """A fresh page (desk size) on the live server: `page.goto("/designs/")`."""
    context = browser.new_context(base_url=live_server.url, viewport=DESK, reduced_motion="reduce")
    opened = context.new_page()
    opened.set_default_timeout(10_000)
    foreign: list[str] = []
    errors: list[str] = []
    own = (live_server.url, "data:", "blob:", "about:")
    opened.on("request", lambda asked: None if asked.url.startswith(own) else foreign.append(asked.url))
    opened.on("pageerror", lambda error: errors.append(str(error)))
    opened.on(
        "console",
        lambda line: errors.append(line.text) if "Content Security Policy" in line.text else None,
    )
    yield opened
    context.close()
    assert foreign == [], "the page asked another host"
    assert errors == [], "the page broke the content policy or a script failed"


def wake_chart(page: Page, number: int = 0) -> Locator:
    """Point at a chart of the page, of which the picture is there, and wait for the interactive one."""
    place = page.locator(".chart-place").nth(number)
    expect(place.locator("img")).to_have_js_property("complete", True)
    assert place.locator("img").evaluate("picture => picture.naturalWidth") > 0
    place.hover()
    drawn = place.locator("svg").first
    drawn.wait_for()
    expect(place).to_have_class(re.compile("is-live"))
    return drawn
