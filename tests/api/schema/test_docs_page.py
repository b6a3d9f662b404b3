"""The docs page in a browser: it renders under the site's content policy, from this machine alone.

The `page` fixture fails the test when the page asks another host or breaks the policy.
"""

from __future__ import annotations

import pytest


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_it_lists_every_operation_and_opens_one(page):
    page.goto("/api/v1/docs/")
    page.wait_for_selector(".opblock")
    assert page.locator(".opblock").count() >= 26
    assert "Benchnight" in page.locator(".info .title").inner_text()
    page.locator("#operations-designs-design_evidence .opblock-summary-control").click()
    page.wait_for_selector("#operations-designs-design_evidence .opblock-body")
    assert (
        "Per band the verdict"
        in page.locator("#operations-designs-design_evidence .opblock-body").inner_text()
    )


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_an_operation_can_be_tried(page):
    page.goto("/api/v1/docs/")
    operation = "#operations-about-index"
    page.locator(f"{operation} .opblock-summary-control").click()
    page.locator(f"{operation} .try-out__btn").click()
    page.locator(f"{operation} .execute").click()
    page.wait_for_selector(f"{operation} .live-responses-table")
    assert "engine_version" in page.locator(f"{operation} .live-responses-table").inner_text()
