"""Side by side: up to four designs, by address, as each circle may see them."""

from __future__ import annotations

import json
import re

import altair
import pytest
from django.test import Client

from measurements.charts import compare_chart
from measurements.ingest import releases
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group


def lines_of(spec: dict) -> set[str]:
    """The letters that the chart has figures for."""
    return {name for rows in spec["datasets"].values() for row in rows for name in row} & {"A", "B", "C", "D"}


@pytest.fixture
def other(group: Group) -> str:
    """A second design, of four people: members see it, the public does not."""
    key = factories.evidence(4, peak_ohm=500, turns=7, style="bifilar")
    releases.make()
    return key


def test_two_designs_stand_in_one_table_and_chart(owner: Client, group: Group, other: str):
    query = f"?design={group.design}&design={other}&benchmark_db=25"
    page = owner.get(f"/designs/compare/{query}")
    words = markup.words(page.content)
    assert page.status_code == 200 and "At 25 dB" in words
    assert "12 turns coax" in words and "7 turns bifilar" in words and "falls short" in words
    spec = json.loads(owner.get(f"/designs/compare/chart.json{query}").content)
    altair.Chart.from_dict(spec)  # the published schema of the grammar decides
    drawn = lines_of(spec)
    assert drawn == {"A", "B"}


def test_the_public_sees_only_what_is_published_to_it(group: Group, other: str):
    query = f"?design={group.design}&design={other}"
    spec = json.loads(Client().get(f"/designs/compare/chart.json{query}").content)
    drawn = lines_of(spec)
    assert drawn == {"A"}
    assert "too few" in markup.words(Client().get(f"/designs/compare/{query}").content)


def test_too_many_unknown_and_none(owner: Client, group: Group):
    five = "&".join(f"design=aaaaaaaaaaa{n}" for n in range(2, 7))
    assert b"Up to 4 designs" in owner.get(f"/designs/compare/?{five}").content
    assert owner.get("/designs/compare/?design=aaaaaaaaaaaa").status_code == 404
    assert "Nothing is chosen yet" in markup.words(owner.get("/designs/compare/").content)
    assert owner.get(f"/designs/compare/chart.svg?design={group.design}").status_code == 200


def test_the_list_leads_there(owner: Client, group: Group):
    page = markup.read(owner.get("/designs/").content)
    boxes = [box for box in page.all("input") if box.attrs.get("name") == "design"]
    assert [box.attrs["value"] for box in boxes] == [group.design]


def test_five_curves_do_not_fit():
    with pytest.raises(ValueError, match="four"):
        compare_chart.build([None] * 5, (), 20.0)


def test_the_heat_map_says_in_words_and_figures_what_it_shades(owner: Client, group: Group):
    page = owner.get("/designs/?band=30m&band=160m")
    words = markup.words(page.content)
    assert "Core and turns, band by band" in words and "a family, not a verdict on one design" in words
    assert re.search(rb'class="h[45]"', page.content)  # 25 to 35 dB on 30 m: resonant, 3000 ohm
    assert "Core and turns, band by band" not in markup.words(owner.get("/designs/?mix=77").content)
