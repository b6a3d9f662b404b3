"""The link that cites a verdict holds release, band, kind and limit, and leads to what that release said."""

from __future__ import annotations

import html
import re
from urllib.parse import parse_qs, urlsplit

import pytest
from django.test import Client

from measurements.services.reference import reference_files
from measurements.services.releases import releases
from tests import factories, scenes
from tests.pages.conftest import signed_in


def build_group() -> tuple[str, object]:
    """A design that met in release 1 and falls short in release 2, of many people; a member who reads it."""
    reference_files.load_reference_data()
    design = factories.evidence(5, peak_ohm=3000)
    releases.make_release()
    factories.evidence(14, peak_ohm=60, first=10)
    releases.make_release()
    return design, factories.member("reader")


cited_group = scenes.share("cited_group", build_group)


@pytest.fixture
def group(cited_group, db):
    return cited_group


def read(design: str, query: str = "", client: Client | None = None) -> str:
    reply = (client or Client()).get(f"/designs/{design}/{query}")
    assert reply.status_code == 200
    return html.unescape(reply.content.decode())


def cite(page: str) -> str:
    return re.search(r'<p class="digest">(http[^<]+)</p>', page)[1]


def test_the_link_holds_release_band_kind_and_limit(group):
    design, _reader = group
    link = urlsplit(cite(read(design, "?band=40m&band=20m")))
    assert link.path == f"/designs/{design}/"
    assert parse_qs(link.query) == {
        "band": ["40m", "20m"],
        "benchmark_db": ["20"],
        "kind": ["common_mode"],
        "release": ["2"],
    }
    asked = parse_qs(urlsplit(cite(read(design, "?band=40m&benchmark_db=25"))).query)
    assert asked["benchmark_db"] == ["25"]
    again = read(design, f"?{link.query}")
    assert cite(again) == link.geturl() and "You came by a link" not in again


@pytest.mark.parametrize("signed", [False, True])
def test_an_earlier_release_says_what_it_said(group, signed):
    design, reader = group
    page = read(design, "?band=40m&release=1", signed_in(reader) if signed else None)
    assert "cites release 1" in page and "<li>40m: typically meets</li>" in page
    assert page.count("<li>20m: ") == 0
    assert parse_qs(urlsplit(cite(page)).query)["release"] == ["2"]  # the page shows the newest


@pytest.mark.parametrize("release", ["2", "9", "-1", "x", "1" * 30, "٣", ""])
def test_what_is_no_earlier_release_is_passed_over(group, release):
    assert "You came by a link" not in read(group[0], f"?release={release}")


def test_a_release_that_had_nothing_for_this_reader_says_so(group):
    design, _reader = group
    few = factories.evidence(5, turns=9)
    releases.make_release()
    page = read(few, "?release=1")
    assert "Release 1 had no verdict of this for you." in page
    assert "Release 0" not in page and "cannot be read" in read(design, "?release=0")
