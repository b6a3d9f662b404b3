"""The guide pages that belong to no kind: each is there, its figures are right, and it keeps its budget."""

from __future__ import annotations

import gzip
import json
import math
import re

import pytest
from django.test import Client

from deploy.virtualenv import ROOT
from measurements.pages.guide.topics.bench_pages import build_rejection_table
from measurements.pages.guide.topics.catalogue import GUIDE_PAGES, PAGES_BY_SLUG
from measurements.pages.guide.topics.trusting import build_coverage_table
from tests.pages import markup

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("slug", [*PAGES_BY_SLUG, "dc"])
def test_the_page_is_there_within_its_budget(
    client: Client, reference_data: None, slug: str, django_assert_max_num_queries
):
    with django_assert_max_num_queries(15):
        answer = client.get(f"/guide/{slug}/")
    assert answer.status_code == 200
    page = markup.read(answer.content)
    assert len(gzip.compress(answer.content)) < 30_000 and len(page.elements) < 1500
    images = page.all("img")
    assert all(each.attrs["alt"] for each in images)


def test_every_page_is_reached_from_the_first_and_from_every_other(client: Client, reference_data: None):
    wanted = {f"/guide/{slug}/" for slug in PAGES_BY_SLUG}
    for address in ("/guide/", "/guide/words/", "/guide/common_mode/"):
        links = {each.attrs.get("href") for each in markup.read(client.get(address).content).all("a")}
        assert wanted <= links, address


def test_rejection_stands_with_its_ohms():
    """The ohms of trade.md 3.1: from |1 + Z/100|, a series impedance in a 50-ohm system (textbook)."""
    rows = {row[0]: row[1:] for row in build_rejection_table().rows}
    wanted = {
        "10 dB": "216 ohm",
        "15 dB": "462 ohm",
        "25 dB": "1,678 ohm",
        "30 dB": "3,062 ohm",
        "40 dB": "9,900 ohm",
    }
    assert {name: rows[name][0] for name in wanted} == wanted
    assert rows["20 dB"] == ("900 ohm", "995 ohm")


def test_the_worked_reading_is_right():
    (said,) = PAGES_BY_SLUG["first_choke"].parts[1].text
    for z_ohm, dressed in ((3448, "3,448"), (3547j, "3,547")):
        assert dressed in said
        assert 20 * abs(math.log10(abs(1 + z_ohm / 100))) == pytest.approx(31, abs=0.003)


def test_36_percent_of_the_current_is_left():
    """Ohm's law: 500 ohm alone, and 500 + 900 ohm."""
    left = 500 / (500 + 900)
    assert f"{100 * left:.0f} %" in " ".join(PAGES_BY_SLUG["first_choke"].parts[2].points)


def test_the_open_line_table_is_right():
    """SWR of a reflection of 10^(-RL/20), and half the return loss one way (definitions)."""
    (table,) = PAGES_BY_SLUG["feed_line"].parts[1].tables
    for return_loss, loss, swr in table.rows:
        back = float(return_loss.split()[0])
        size = 10 ** (-back / 20)
        assert float(loss.split()[0]) == back / 2
        assert float(swr) == pytest.approx((1 + size) / (1 - size), rel=0.02)


def test_the_first_choke_page_has_nine_lines_and_the_form_fits_a_page():
    assert len(PAGES_BY_SLUG["first_choke"].parts[0].steps) == 9
    assert len(PAGES_BY_SLUG["calibrating"].parts[0].pictures) == 4
    assert 10 <= len(PAGES_BY_SLUG["commissioning"].parts[-1].form) <= 24


def test_no_page_promises_more_than_was_measured():
    said = repr(GUIDE_PAGES)
    assert not re.search(r"over 99 ?%|guarantee|always works|is exact\b|safe for", said, re.IGNORECASE)


def test_the_terminals_are_defined_by_type():
    terminals = dict(PAGES_BY_SLUG["words"].parts[1].tables[0].rows)
    assert {"A, B of a 1:1", "A, B of a voltage balun", "A, B of an unun"} <= set(terminals)


def test_the_page_about_trust_shows_what_was_counted(client: Client, reference_data: None):
    """Every cell of loss and rejection is a line, read from the file by itself."""
    rows = json.loads((ROOT / "fixtures/reference/coverage.json").read_text(encoding="utf-8"))["rows"]
    wanted = [row for row in rows if not row["cell"]["method"].startswith("zcm")]
    table = build_coverage_table()
    assert len(table.rows) == len(wanted) > 40
    assert sorted(line[5] for line in table.rows) == sorted(f"{100 * row['inside']:.0f} %" for row in wanted)
    assert b"too close to call" in client.get("/guide/trusting/").content
