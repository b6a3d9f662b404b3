"""A passkey in a real browser: Chromium's virtual authenticator (DevTools protocol, domain WebAuthn).

It makes the passkey, the steward goes on, signs out, and comes back with password and passkey.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from axe_playwright_python.base import AXE_FILE_PATH

from measurements.models import Passkey, RecoveryCode
from measurements.services.accounts import accounts
from tests import factories
from tests.browsing import DESK, PHONE
from tests.pages.test_axe import RUN

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PASSWORD = "five lamps over the bench"


@pytest.fixture
def site(live_server, settings):
    """The live server under a name for which browsers make passkeys."""
    address = live_server.url.replace("127.0.0.1", "localhost")
    settings.BENCHNIGHT_SITE = address
    settings.BENCHNIGHT_SECOND_FACTOR_FOR = ("steward",)
    settings.ALLOWED_HOSTS = ["localhost"]
    return address


@pytest.fixture
def keyed(browser, site):
    """A page with an authenticator that answers for a person who is there."""
    context = browser.new_context(base_url=site, viewport=PHONE, reduced_motion="reduce")
    page = context.new_page()
    page.set_default_timeout(15_000)
    page.add_init_script(Path(AXE_FILE_PATH).read_text(encoding="utf-8"))
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    protocol = context.new_cdp_session(page)
    protocol.send("WebAuthn.enable")
    options = {
        "protocol": "ctap2",
        "transport": "internal",
        "hasResidentKey": True,
        "hasUserVerification": True,
        "isUserVerified": True,
        "automaticPresenceSimulation": True,
    }
    protocol.send("WebAuthn.addVirtualAuthenticator", {"options": options})
    yield page
    context.close()
    assert errors == []


def look_at(page, name: str) -> None:
    """No violation, nothing wider than a phone; a picture where somebody wants to look."""
    for view in (PHONE, DESK):
        page.set_viewport_size(view)
        if folder := os.environ.get("BENCHNIGHT_PICTURES"):
            page.screenshot(path=Path(folder) / f"{name}-{view['width']}.png", full_page=True)
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide <= 0, name
    page.set_viewport_size(PHONE)
    assert page.evaluate(RUN) == [], name


def sign_in(page) -> None:
    page.goto("/sign-in/")
    page.get_by_label("Name").fill("Cleo")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").last.click()


def test_a_steward_makes_a_passkey_and_signs_in_with_it(keyed):
    cleo = factories.member("Cleo", "steward")
    accounts.set_password(by=cleo, password=PASSWORD)
    sign_in(keyed)
    keyed.wait_for_url("**/account/second-factor/")
    look_at(keyed, "second-factor-first")
    keyed.goto("/account/second-factor/app/")
    look_at(keyed, "second-factor-app")
    keyed.goto("/account/second-factor/passkey/")
    look_at(keyed, "second-factor-passkey")
    keyed.get_by_label("Name").fill("phone")
    keyed.get_by_role("button", name="Make the passkey").click()
    keyed.get_by_role("heading", name="Recovery codes").wait_for()
    look_at(keyed, "recovery-codes")
    assert Passkey.objects.get().label == "phone" and RecoveryCode.objects.count() == 10
    keyed.goto("/account/second-factor/")
    look_at(keyed, "second-factor-have")
    keyed.goto("/steward/")
    assert keyed.url.endswith("/steward/")
    keyed.get_by_role("button", name="Sign out").click()
    sign_in(keyed)
    keyed.wait_for_url("**/sign-in/second/")
    look_at(keyed, "second-step")
    keyed.get_by_role("button", name="Use a passkey").click()
    keyed.wait_for_url(lambda url: "/sign-in/" not in url)
    keyed.goto("/steward/accounts/")
    assert keyed.url.endswith("/steward/accounts/") and Passkey.objects.get().sign_count > 0
