"""What every page promises: content policy, nothing inline, no other host, weight, labels, landmarks."""

from __future__ import annotations

import re
from collections import Counter

import pytest
from django.test import Client

from tests.pages import markup
from tests.pages.conftest import Group, signed_in

WEIGHT_BYTES = 100_000
ADDRESSES = (
    "/",
    "/?band=40m",
    "/?band=40m&band=160m&ratio=9:1",
    "/?benchmark_db=99",
    "/designs/",
    "/designs/?order=title&band=40m&turns_min=x",
    "/designs/{design}/",
    "/designs/{design}/?benchmark_db=25",
    "/predict/",
    "/predict/?band=40m&band=20m",
    "/predict/core/",
    "/predict/winding/?part=2631803802&stacked=1&turns=12&band=40m",
    "/upload/",
    "/upload/?design={design}",
    "/upload/?kind=common_mode",
    "/upload/?kind=load_match&design={design}",
    "/upload/?kind=insertion_loss&method=one_port",
    "/upload/?kind=insertion_loss&method=pairs&device={device}",
    "/upload/?kind=balance",
    "/upload/?kind=in_situ",
    "/upload/?kind=dc",
    "/tests/{test}/",
    "/tests/{test}/withdraw/",
    "/devices/",
    "/devices/{device}/",
    "/devices/{device}/change/",
    "/devices/?state=due&q=QX&retired=yes",
    "/devices/{device}/inspect/",
    "/devices/{device}/commissioning/",
    "/devices/{device}/pictures/",
    "/devices/{device}/fault-search/",
    "/devices/{device}/report/",
    "/inspections/{inspection}/",
    "/pictures/{photo}/",
    "/fault-searches/{search}/",
    "/account/calendar/",
    "/account/",
    "/account/sessions/",
    "/sign-in/",
    "/sign-in/abcdefghijklmnopqrstuvwx/",
    "/guide/",
    "/guide/common_mode/",
    "/guide/load_match/",
    "/guide/insertion_loss/",
    "/guide/balance/",
    "/guide/in_situ/",
    "/guide/bench/",
    "/guide/flags/",
    "/guide/service/",
    "/data/",
    "/no/such/page/",
)


@pytest.fixture(params=["nobody", "owner"])
def pages(request: pytest.FixtureRequest, group: Group) -> dict[str, bytes]:
    """Every page as one of two readers gets it."""
    client = Client() if request.param == "nobody" else signed_in(group.owner)
    found = {}
    for pattern in ADDRESSES:
        answer = client.get(pattern.format(**vars(group)))
        policy = answer.get("Content-Security-Policy", "")
        assert "unsafe" not in policy and "default-src 'none'" in policy and "script-src 'self'" in policy
        assert answer["X-Content-Type-Options"] == "nosniff"
        unkept = "no-cache" if request.param == "nobody" else "no-store"
        assert {"private", unkept} == set(answer["Cache-Control"].split(", "))
        if answer.status_code != 302:
            found[pattern] = answer.content
    assert len(found) > 15
    return found


def test_nothing_is_inline(pages):
    for content in pages.values():
        for element in markup.read(content).elements:
            assert "style" not in element.attrs
            assert not [name for name in element.attrs if name.startswith("on")]
            assert element.tag != "style"
            if element.tag == "script":
                assert element.attrs["src"].startswith("/static/") and element.text.strip() == ""


def test_no_other_host_is_named(pages):
    for content in pages.values():
        for element in markup.read(content).elements:
            for name in ("src", "href", "action", "srcset", "data-spec-url", "data-engine"):
                assert not re.match(r"(?i)(https?:)?//", element.attrs.get(name, ""))


def test_no_page_is_heavy(pages):
    assert {pattern: len(content) for pattern, content in pages.items() if len(content) > WEIGHT_BYTES} == {}


def test_every_page_has_one_heading_a_title_and_landmarks(pages):
    for content in pages.values():
        page = markup.read(content)
        assert len(page.all("h1")) == len(page.all("main")) == len(page.all("header")) == 1
        assert page.all("title")[0].text.strip()
        assert page.one("html").attrs["lang"] == "en"
        assert page.one("a", href="#content")


def test_every_input_has_a_label(pages):
    for pattern, content in pages.items():
        page = markup.read(content)
        labelled = {each.attrs.get("for") for each in page.all("label")}
        for element in page.all("input", "select", "textarea"):
            if element.attrs.get("type") == "hidden" or element.attrs.get("name") == "band":
                continue  # a band's box stands inside of its label
            if element.attrs.get("name", "").startswith("drop_"):
                continue
            assert element.attrs.get("id") in labelled, f"{pattern}: {element}"


def test_ids_are_unique_and_descriptions_exist(pages):
    for pattern, content in pages.items():
        page = markup.read(content)
        assert [name for name, count in Counter(page.ids).items() if count > 1] == [], pattern
        for element in page.elements:
            for name in element.attrs.get("aria-describedby", "").split():
                assert name in page.ids, f"{pattern}: {name}"


def test_tables_have_captions_and_pictures_words(pages):
    for content in pages.values():
        page = markup.read(content)
        assert len(page.all("table")) == len(page.all("caption"))
        assert all(each.attrs.get("alt") for each in page.all("img"))


def test_links_lead_somewhere(pages, group: Group):
    """Every own address that a page names exists (the API's are the other door's)."""
    client = signed_in(group.owner)
    seen: set[str] = set()
    for content in pages.values():
        for element in markup.read(content).all("a"):
            href = element.attrs["href"].split("#")[0]
            if href.startswith("/") and not href.startswith("/api/"):
                seen.add(href)
    assert len(seen) > 10
    for href in sorted(seen):
        assert client.get(href).status_code in (200, 302), href


def test_who_is_signed_in_signs_out_from_any_page(pages, request):
    expected = 0 if request.node.callspec.params["pages"] == "nobody" else 1
    for pattern, content in pages.items():
        doors = [
            form for form in markup.read(content).all("form") if form.attrs.get("action") == "/sign-out/"
        ]
        assert len(doors) == expected, pattern
        assert (">Sign out</button>" in content.decode()) == bool(expected), pattern
