"""axe finds no violation on any page: as its readers get it, on a desk and a phone, in light and dark.

The rules are axe-core's own, WCAG 2.2 A and AA and its best practices, as the package axe-playwright-python
brings them.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from axe_playwright_python.base import AXE_FILE_PATH
from django.conf import settings
from django.test import Client

from measurements.pages import urls
from tests.browsing import DESK, PHONE
from tests.pages.full_group import House, furnish
from tests.pages.visits import NOT_LOOKED_AT, OTHERS, VISITS, Visit

RUN = """async () => {
    // the inside of a chart is one picture to whoever does not see it, and a thousand marks to check
    const page = {include: [["html"]], exclude: [[".chart-place svg"]]};
    const found = await axe.run(page, {resultTypes: ["violations"]});
    const said = (rule) => rule.nodes.map((node) => [rule.id, node.html.slice(0, 160), node.failureSummary]);
    return found.violations.flatMap(said);
}"""
# a table that is wider than its place is reached by keyboard only in a labelled box that takes the focus
CUT_TABLES = """() => [...document.querySelectorAll("table")]
    .filter((table) => table.offsetWidth > table.parentElement.clientWidth + 1)
    .filter((table) => !table.closest('[tabindex="0"][role="region"][aria-label]'))
    .map((table) => table.caption ? table.caption.innerText : table.className)"""
# these are laid out so that a phone shows all of them at once
SCROLLED = """() => [...document.querySelectorAll("table.stacks, table.wraps")]
    .filter((table) => table.checkVisibility() && table.offsetWidth > table.parentElement.clientWidth + 1)
    .map((table) => table.caption.innerText)"""
DRAWN = "() => [...document.querySelectorAll('.chart-place img')].every((each) => each.naturalWidth)"


def test_every_page_is_looked_at_or_says_why_not():
    names = {pattern.name for pattern in urls.urlpatterns}
    assert names == set(VISITS) | set(NOT_LOOKED_AT)
    assert not set(VISITS) & set(NOT_LOOKED_AT)


@pytest.fixture
def house(reference_data: None) -> House:
    return furnish()


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_no_page_has_a_violation(browser, live_server, house: House):
    pages = {who: _page(browser, live_server.url, client) for who, client in house.clients.items()}
    found = [
        line for visit, small in _visits() for line in _violations(pages[visit.who], visit, house.keys, small)
    ]
    for page in pages.values():
        page.context.close()
    assert not found, "\n".join(found)


@pytest.mark.browser
def test_a_fault_would_be_found(browser):
    page = browser.new_page(viewport=DESK)
    page.add_init_script(Path(AXE_FILE_PATH).read_text(encoding="utf-8"))
    page.goto("about:blank")
    page.set_content(
        "<html lang=en><title>x</title><main><h1>x</h1><input><p style='color:#ccc'>pale</p></main>"
    )
    rules = {line.split(": ")[1] for line in _broken(page, "planted")}
    page.close()
    assert rules == {"label", "color-contrast"}


def _visits() -> Iterator[tuple[Visit, bool]]:
    """Every visit, and whether axe looks at it on a phone too: at one of each page it does."""
    for visits in (*VISITS.values(), OTHERS):
        yield from ((visit, visit is visits[-1]) for visit in visits)


def _page(browser, url: str, client: Client):
    """A browser's page in which `client` is signed in. axe is put into every document from outside."""
    context = browser.new_context(base_url=url, viewport=DESK, color_scheme="light", reduced_motion="reduce")
    session = client.cookies.get(settings.SESSION_COOKIE_NAME)
    if session is not None:
        context.add_cookies([{"name": session.key, "value": session.value, "url": url}])
    page = context.new_page()
    page.set_default_timeout(20_000)
    page.add_init_script(Path(AXE_FILE_PATH).read_text(encoding="utf-8"))
    return page


def _violations(page, visit: Visit, keys: dict[str, str], small: bool) -> Iterator[str]:
    address = visit.address.format(**keys)
    page.set_viewport_size(DESK)
    page.emulate_media(color_scheme="light")
    answer = page.goto(address)
    if answer.status != visit.status or not answer.url.endswith(address):
        yield f"{visit.who} {address}: answered {answer.status} {answer.url}"
        return
    page.wait_for_function(DRAWN)
    yield from _broken(page, f"{visit.who} {address}, desk, light")
    page.set_viewport_size(PHONE)
    wide_px = page.evaluate("document.documentElement.scrollWidth")
    if wide_px > PHONE["width"]:
        yield f"{visit.who} {address}: {wide_px} px wide on a phone of {PHONE['width']} px"
    for caption in page.evaluate(CUT_TABLES):
        yield f"{visit.who} {address}: a table wider than a phone without a box to scroll in: {caption}"
    for caption in page.evaluate(SCROLLED):
        yield f"{visit.who} {address}: a table that is to fit a phone is wider than it: {caption}"
    if not small:
        return
    page.emulate_media(color_scheme="dark")
    yield from _broken(page, f"{visit.who} {address}, phone, dark")


def _broken(page, where: str) -> Iterator[str]:
    for rule, element, words in page.evaluate(RUN):
        yield f"{where}: {rule}: {element}\n    {words}"
