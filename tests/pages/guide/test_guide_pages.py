"""The guide as anybody reads it: pages, the way to the upload form and back, drawings as files."""

from __future__ import annotations

import re
from urllib.parse import parse_qs, urlsplit

import pytest
from django.test import Client

from measurements.pages.guide import contents
from measurements.pages.guide.drawings import catalogue
from measurements.pages.layout import procedures
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group

pytestmark = pytest.mark.django_db
TOPICS = [*contents.ENTRIES_BY_KIND, contents.BENCH_TOPIC, contents.FLAGS_TOPIC, contents.SERVICE_TOPIC]


def read(client: Client, address: str) -> markup.Markup:
    answer = client.get(address)
    assert answer.status_code == 200, address
    return markup.read(answer.content)


@pytest.fixture
def anybody(reference_data: None) -> Client:
    return Client()


def test_the_first_page_leads_to_every_other(anybody: Client):
    found = {link.attrs["href"].split("#")[0] for link in read(anybody, "/guide/").all("a")}
    assert {f"/guide/{topic}/" for topic in TOPICS} <= found


@pytest.mark.parametrize("topic", TOPICS)
def test_anchors_exist(anybody: Client, topic: str):
    """Every link with an anchor inside the guide leads to an element that is there."""
    pages = {topic: read(anybody, f"/guide/{topic}/")}
    for link in pages[topic].all("a"):
        address = urlsplit(link.attrs["href"])
        if (
            not address.fragment
            or not address.path.startswith(("/guide/", ""))
            or address.fragment == "content"
        ):
            continue
        other = address.path.split("/")[2] if address.path else topic
        if other not in pages:
            pages[other] = read(anybody, f"/guide/{other}/")
        assert address.fragment in pages[other].ids, link.attrs["href"]


@pytest.mark.parametrize("kind", contents.ENTRIES_BY_KIND)
def test_a_page_shows_the_drawings_of_its_sections(anybody: Client, kind: str):
    page = read(anybody, f"/guide/{kind}/")
    alts = [image.attrs["alt"] for image in page.all("img")]
    expected = [
        catalogue.get_drawing(kind, section.method, role).words
        for section in contents.ENTRIES_BY_KIND[kind].sections
        for role in section.drawn
    ]
    assert alts == expected


@pytest.mark.parametrize("kind", contents.ENTRIES_BY_KIND)
def test_cautions_stand_on_the_page(anybody: Client, kind: str):
    said = markup.words(anybody.get(f"/guide/{kind}/").content)
    for caution in contents.ENTRIES_BY_KIND[kind].cautions:
        assert caution.text in said


def test_at_the_antenna_the_cautions_come_before_the_steps(anybody: Client):
    said = markup.words(anybody.get("/guide/in_situ/").content)
    assert said.index("Take care") < said.index("Step by step")


def test_the_group_limit_is_named_with_its_source(anybody: Client):
    """The values of fixtures/reference."""
    said = markup.words(anybody.get("/guide/common_mode/").content)
    assert "Rejection at least 20 dB" in said and "Common practice of the trade" in said
    said = markup.words(anybody.get("/guide/balance/").content)
    assert "Amplitude imbalance at most 1 dB" in said and "Phase imbalance at most 10 degrees" in said
    assert "House default" in said


def test_the_guide_and_the_form_lead_to_each_other(owner: Client):
    for kind in contents.ENTRIES_BY_KIND:
        offered = set()
        for link in read(owner, f"/guide/{kind}/").all("a"):
            address = urlsplit(link.attrs["href"])
            if address.path != "/upload/" or not address.query:
                continue
            query = parse_qs(address.query)
            method = query.get("method", [None])[0]
            offered.add((query["kind"][0], method))
            form = read(owner, link.attrs["href"])
            anchor = contents.find_section(kind, method).anchor
            assert any(back.attrs["href"] == f"/guide/{kind}/#{anchor}" for back in form.all("a"))
        assert offered == {(each.kind, each.method) for each in procedures.PROCEDURES if each.kind == kind}


@pytest.mark.parametrize("procedure", procedures.PROCEDURES, ids=lambda each: each.key)
def test_the_form_shows_a_drawing_beside_each_file(owner: Client, procedure: procedures.Procedure):
    query = f"?kind={procedure.kind}" + (f"&method={procedure.method}" if procedure.method else "")
    page = read(owner, f"/upload/{query}")
    files = [each.attrs["name"] for each in page.all("input") if each.attrs.get("type") == "file"]
    assert files == [each.role for each in (*procedure.main_files, *procedure.jig_files)]
    sources = [image.attrs["src"].split("?")[0] for image in page.all("img")]
    slugs = [catalogue.get_drawing(procedure.kind, procedure.method, role).slug for role in files]
    assert sources == [f"/guide/drawings/{slug}.svg" for slug in slugs]


def test_the_flags_of_a_result_lead_to_their_explanation(owner: Client, group: Group):
    key = factories.record(group.owner, group.device, factories.choke_s2p(seed=5), calibrated="false")
    links = [link.attrs["href"] for link in read(owner, f"/tests/{key}/").all("a")]
    led = [href.split("#")[1] for href in links if href.startswith("/guide/flags/#")]
    assert led
    assert set(led) <= set(read(owner, "/guide/flags/").ids)


def test_an_unknown_page_is_refused_kindly(anybody: Client):
    answer = anybody.get("/guide/time_travel/")
    assert answer.status_code == 404
    assert "Start at its first page" in answer.content.decode()


def test_a_drawing_under_the_address_of_the_pages_is_kept_for_a_year(anybody: Client):
    page = read(anybody, "/guide/common_mode/")
    address = page.all("img")[0].attrs["src"]
    answer = anybody.get(address)
    assert answer["Content-Type"] == "image/svg+xml; charset=utf-8"
    assert answer.content.decode() == catalogue.get_drawing("common_mode", None, "sweep").svg
    assert {"public", "immutable", "max-age=31536000"} == set(re.split(", ?", answer["Cache-Control"]))
    assert not answer.cookies and "Cookie" not in answer.get("Vary", "")
    again = anybody.get(address, headers={"If-None-Match": answer["ETag"]})
    assert again.status_code == 304 and again.content == b""


def test_an_old_address_of_a_drawing_still_works_but_is_not_kept_for_long(anybody: Client):
    for address in ("/guide/drawings/reading.svg", "/guide/drawings/reading.svg?v=0123456789ab"):
        answer = anybody.get(address)
        assert answer.status_code == 200
        assert "immutable" not in answer["Cache-Control"] and "max-age=300" in answer["Cache-Control"]


def test_an_unknown_drawing_is_refused(anybody: Client):
    answer = anybody.get("/guide/drawings/no.such.svg")
    assert answer.status_code == 404 and b"no such drawing" in answer.content


def test_the_page_on_service_says_the_groups_own_numbers(client: Client, reference_data: None):
    from measurements.models import GroupSetting

    GroupSetting.objects.create(name="service_test_interval_days", value=77)
    words = markup.words(client.get("/guide/service/").content)
    assert "every 77 days" in words and "20 dB of rejection" in words
    order = [
        words.index(f"{said}. ") for said in ("Unserviceable", "Untested", "Overdue", "Watch", "Serviceable")
    ]
    assert order == sorted(order)
