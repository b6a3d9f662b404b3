"""In a browser: designs are offered while a recipe is typed, and the Enter key still checks the result."""

from __future__ import annotations

import pytest
from django.conf import settings

from measurements.services.accounts import accounts
from measurements.services.releases import releases
from tests import factories
from tests.browsing import DESK, PHONE

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
SWEEP = settings.ROOT / "fixtures/sweeps/choke_one_direction.s2p"


@pytest.fixture
def form(page, reference_data: None):
    """The upload form of a member who has no device yet, beside a design that six people have built."""
    factories.evidence(6)
    releases.make_release()
    factories.member("Dora")
    page.goto(f"/sign-in/{accounts.issue_sign_in_link(name='Dora')}/")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Dora").wait_for()
    page.goto("/upload/?kind=common_mode")
    return page


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_design_is_offered_and_used_while_typing(form, size: dict[str, int]):
    form.set_viewport_size(size)
    asked: list[str] = []
    form.on("request", lambda request: asked.append(request.url) if "matches" in request.url else None)
    form.get_by_label("Tag").fill("Secret tag")
    form.get_by_label("Sweep (S21)").set_input_files(SWEEP)
    form.get_by_label("Core", exact=True).select_option("2631803802")
    form.get_by_label("Turns").fill("11")
    form.get_by_text("Differs: 12 turns.").wait_for()
    assert asked and not any("Secret" in address for address in asked)  # only the recipe is sent
    assert form.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth") <= 0
    form.get_by_role("button", name="Use this design").click()
    form.get_by_text("Kept: choke_one_direction.s2p").wait_for()
    assert form.get_by_label("Tag").input_value() == "Secret tag"
    assert form.get_by_text("12 turns coax").is_visible()


def test_the_enter_key_checks_the_result_and_uses_no_design(form):
    form.get_by_label("Core", exact=True).select_option("2631803802")
    form.get_by_label("Turns").fill("11")
    form.get_by_text("Differs: 12 turns.").wait_for()
    form.get_by_label("Turns").press("Enter")
    form.get_by_text("your entries and files are still here").wait_for()
    assert form.evaluate("'summary' in document.activeElement.dataset")
    form.get_by_role("link", name="Tag", exact=True).click()
    assert form.evaluate("document.activeElement.id") == "id_tag"
    assert form.get_by_label("Turns").input_value() == "11"


@pytest.mark.usefixtures("reference_data")
def test_a_fault_has_the_focus_at_an_address_with_a_place_in_it_too(page):
    factories.member("Cleo", "steward")
    page.goto(f"/sign-in/{accounts.issue_sign_in_link(name='Cleo')}/")
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("heading", name="Cleo").wait_for()
    page.goto("/steward/bands/")
    page.get_by_role("button", name="Change the plan").click()
    page.wait_for_load_state("load")
    assert page.url.endswith("#change")
    page.wait_for_function("() => 'summary' in document.activeElement.dataset")
