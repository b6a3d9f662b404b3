"""Side by side: up to four designs, by address, as each circle may see them."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ElementTree

import altair
import pytest
from django.test import Client

from measurements.charts import compare_chart
from measurements.selectors.designs import families
from measurements.selectors.evidence import design_curves
from measurements.services.releases import releases
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
    releases.make_release()
    return key


def test_two_designs_stand_in_one_table_and_chart(owner: Client, group: Group, other: str):
    query = f"?design={group.design}&design={other}&benchmark_db=25"
    page = owner.get(f"/designs/compare/{query}")
    words = markup.words(page.content)
    assert page.status_code == 200 and "Held against 25 dB of rejection" in words
    assert "12 turns coax" in words and "7 turns bifilar" in words and "no verdict" in words.lower()
    spec = json.loads(owner.get(f"/designs/compare/chart.json{query}").content)
    altair.Chart.from_dict(spec)  # the published schema of the grammar decides
    drawn = lines_of(spec)
    assert drawn == {"A", "B"}


def test_the_public_sees_only_what_is_published_to_it(group: Group, other: str):
    query = f"?design={group.design}&design={other}"
    spec = json.loads(Client().get(f"/designs/compare/chart.json{query}").content)
    drawn = lines_of(spec)
    assert drawn == {"A"}
    public = markup.words(Client().get(f"/designs/compare/{query}").content)
    assert "too few" in public
    assert "No curve of B: too few of its devices were tested for the public to see one." in public


def test_of_few_people_nobody_sees_a_range_and_the_figures_are_those_released(
    owner: Client, group: Group, other: str
):
    query = f"?design={group.design}&design={other}"
    spec = json.loads(owner.get(f"/designs/compare/chart.json{query}").content)
    assert not [each for each in spec["layer"] if each["mark"]["type"] == "area"]
    first = next(rows for rows in spec["datasets"].values() if "A" in rows[0])
    released = design_curves.get_design_curves(group.owner, other).rejection_db["median"]
    known = [(row["B"], value) for row, value in zip(first, released, strict=True) if value is not None]
    assert len(known) > 40 and all(shown == value for shown, value in known)
    for client in (owner, Client()):
        assert b"p10" not in client.get(f"/designs/compare/chart.json{query}").content
        heads = [each.text for each in markup.read(client.get(f"/designs/compare/{query}").content).all("th")]
        assert "A median, dB" in heads and not [text for text in heads if "one in ten" in text]


def test_too_many_unknown_and_none(owner: Client, group: Group):
    five = "&".join(f"design=aaaaaaaaaaa{n}" for n in range(2, 7))
    assert b"Up to 4 designs" in owner.get(f"/designs/compare/?{five}").content
    assert owner.get("/designs/compare/?design=aaaaaaaaaaaa").status_code == 404
    assert "Nothing is chosen yet" in markup.words(owner.get("/designs/compare/").content)
    assert owner.get(f"/designs/compare/chart.svg?design={group.design}").status_code == 200


def test_the_list_leads_there(owner: Client, group: Group):
    """One click gathers a design, the next filter keeps it, a third opens the comparison."""
    added = link(owner.get("/designs/?band=40m&order=title").content, "Add 12 turns")
    assert added == f"?band=40m&order=title&design={group.design}#found"
    gathered = owner.get("/designs/" + added.split("#")[0])
    assert "gathered" in markup.words(gathered.content)
    hidden = [
        each for each in markup.read(gathered.content).all("input") if each.attrs.get("name") == "design"
    ]
    assert [each.attrs["value"] for each in hidden] == [group.design]
    assert link(gathered.content, "Take out") == "?band=40m&order=title#found"
    where = link(gathered.content, "See 1 side by side")
    assert where == f"/designs/compare/?design={group.design}&band=40m"
    page = owner.get(where)
    assert link(page.content, "Add another design") == f"/designs/?band=40m&design={group.design}#found"
    assert link(page.content, "Take out A") == "/designs/compare/?band=40m"


def test_a_design_page_adds_itself_to_what_is_gathered(owner: Client, group: Group, other: str):
    page = owner.get(f"/designs/{group.design}/?design={other}&band=40m&band=80m")
    where = link(page.content, "Add to comparison (1 so far)")
    assert where == f"/designs/compare/?design={other}&design={group.design}&band=40m&band=80m"
    assert "together" in markup.words(owner.get(where).content)
    others = "".join(f"&design=aaaaaaaaaaa{n}" for n in range(2, 6))
    assert link(owner.get(f"/designs/{group.design}/?{others}").content, "Four designs are gathered")


def test_no_more_than_four_are_gathered_and_nothing_but_keys(owner: Client, group: Group):
    query = "".join(f"&design={'abcd'[n % 4]}aaaaaaaaaa{n}" for n in range(2, 8)) + "&design=<b>"
    words = markup.words(owner.get(f"/designs/?{query}").content)
    assert "four are gathered" in words and "<b>" not in words


def link(content: bytes, words: str) -> str:
    """Where the first link that begins with these words leads."""
    return next(
        each.attrs["href"]
        for each in markup.read(content).all("a")
        if " ".join(each.text.split()).startswith(words)
    )


def test_five_curves_do_not_fit():
    with pytest.raises(ValueError, match="four"):
        compare_chart.build_compare_chart([None] * 5, (), 20.0)


def test_the_heat_map_says_in_words_and_figures_what_it_shades(owner: Client, group: Group):
    page = owner.get("/designs/?band=30m&band=160m")
    words = markup.words(page.content)
    assert "Core and turns, band by band" in words and "a family, not a verdict on one design" in words
    assert re.search(rb'class="h[45]"', page.content)  # 25 to 35 dB on 30 m: resonant, 3000 ohm
    assert "Core and turns, band by band" not in markup.words(owner.get("/designs/?mix=77").content)


def test_the_heat_map_as_a_picture(owner: Client, group: Group):
    page = owner.get("/designs/?band=30m&band=160m&purpose=choke")
    where = link(page.content, "The same as a picture")
    assert where == "/designs/heat.svg?band=30m&band=160m&purpose=choke"
    drawn = "".join(ElementTree.fromstring(owner.get(where).content).itertext())
    assert "12 turns" in drawn and "30m" in drawn and "7 dev." in drawn and "✓" in drawn
    spec = json.loads(owner.get(where.replace(".svg", ".json")).content)
    altair.Chart.from_dict(spec)
    shown = families.list_families_by_core(group.owner, bands=("30m",))[0].evidence[0]
    (cell,) = [row for row in spec["data"]["values"] if row["band"] == "30m"]
    assert (cell["median"], cell["count"]) == (shown["rejection_db"]["median"], f"{shown['devices']} dev.")
    assert owner.get("/designs/heat.svg?mix=77").status_code == 404
    assert owner.get("/designs/heat.svg?turns_min=x").status_code == 400
