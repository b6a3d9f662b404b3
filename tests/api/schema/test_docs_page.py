"""The docs page in a browser: in the site's frame, light and dark, under the site's content policy.

The `page` fixture fails the test when the page asks another host or breaks the policy.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from axe_playwright_python.base import AXE_FILE_PATH
from django.test import Client
from playwright.sync_api import expect

from api.schema import docs_page
from measurements.services.accounts import access_tokens
from tests import factories
from tests.api import reply_validation
from tests.browsing import DESK, PHONE
from tests.pages.test_axe import CUT_TABLES, RUN

DOCS = "/api/v1/docs/"


@pytest.fixture(autouse=True)
def _plenty(settings):
    settings.BENCHNIGHT_ANONYMOUS_PER_MINUTE = 1_000


@pytest.mark.django_db
def test_it_says_without_a_script_what_the_description_says():
    text = Client().get(DOCS).content.decode()
    document = reply_validation.document()
    operations = [each["operationId"] for item in document["paths"].values() for each in item.values()]
    for name in operations:
        assert text.count(f'id="operation-{name}"') == 1
    for name in document["components"]["schemas"]:
        assert text.count(f'id="component-{name}"') == 1
    assert '<a class="brand" href="/">' in text and "Nothing here is a power rating" in text
    assert text.count('class="try"') == sum("get" in item for item in document["paths"].values())


@pytest.mark.django_db
def test_the_look_that_was_chosen(settings):
    client = Client()
    client.cookies[settings.BENCHNIGHT_LOOK_COOKIE] = "dark"
    assert 'data-look="dark"' in client.get(DOCS).content.decode()


def test_sentences_are_escaped():
    assert docs_page.format_sentence("a `b` <i>") == "a <code>b</code> &lt;i&gt;"


@pytest.mark.parametrize(
    ("schema", "said", "component"),
    [
        ({"type": "string"}, "string", ""),
        ({"type": ["number", "null"]}, "number or null", ""),
        ({"type": "string", "format": "date"}, "date", ""),
        ({"type": "array", "items": {"$ref": "#/components/schemas/Band"}}, "list of object", "Band"),
        ({"oneOf": [{"type": "integer"}, {"type": "string"}]}, "integer or string", ""),
        ({"oneOf": [{"$ref": "#/components/schemas/Band"}, {"type": "null"}]}, "object or null", "Band"),
    ],
)
def test_types_in_words(schema, said, component):
    assert (docs_page.describe_type(schema), docs_page.find_component(schema)) == (said, component)


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_axe_finds_nothing_open_or_shut(page, scheme, size):
    page.set_viewport_size(size)
    page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
    page.add_init_script(Path(AXE_FILE_PATH).read_text(encoding="utf-8"))
    page.goto(DOCS)
    assert page.evaluate(RUN) == []
    page.evaluate("document.querySelectorAll('details').forEach((each, i) => { each.open = i % 3 === 0; })")
    assert page.evaluate(RUN) == [] and page.evaluate(CUT_TABLES) == []
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_authorize_and_try(page):
    ada = factories.member("Ada")
    token = access_tokens.issue_token(name=ada.name, days=1, label="docs")
    page.goto(DOCS + "#operation-devices")
    tried = page.locator("#operation-devices")  # opened by its address
    tried.get_by_role("button", name="Try it").click()
    expect(page.locator("#operation-devices .reply")).to_contain_text("\n401 ")

    page.get_by_label("Token", exact=True).fill("wrong")
    page.get_by_role("button", name="Authorize").click()
    expect(page.locator("#authorize-state")).to_contain_text("unknown")
    page.get_by_label("Token", exact=True).fill(token)
    page.get_by_role("button", name="Authorize").click()
    expect(page.locator("#authorize-state")).to_contain_text("Authorized")
    tried.get_by_role("button", name="Try it").click()
    expect(page.locator("#operation-devices .reply")).to_contain_text("\n200 ")
    assert json.loads(tried.locator(".reply").inner_text().split("\n\n", 1)[1])["results"] == []
    kept = page.evaluate("[document.cookie, localStorage.length, sessionStorage.length, location.href]")
    assert kept[1:3] == [0, 0] and token not in str(kept)

    page.get_by_role("button", name="Forget it").click()
    tried.get_by_role("button", name="Try it").click()
    expect(page.locator("#operation-devices .reply")).to_contain_text("\n401 ")


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_an_address_with_a_part_and_a_word(page, reference_data):
    page.goto(DOCS + "#operation-bands")
    page.locator("#operation-bands input[name=region]").fill("1")
    page.locator("#operation-bands").get_by_role("button", name="Try it").click()
    expect(page.locator("#operation-bands .reply")).to_contain_text("40m")
    assert "bands/?region=1" in page.locator("#operation-bands .reply").inner_text()
