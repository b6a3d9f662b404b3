"""The list of designs and the page of one."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ElementTree

import pytest
from django.test import Client

from measurements.selectors.evidence import design_curves
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group


def titles(content: bytes) -> list[str]:
    links = markup.read(content).all("a")
    return [each.text for each in links if re.match("/designs/[a-z0-9]{12}/", each.attrs["href"])]


def test_filters_narrow_the_list(owner: Client, group: Group):
    factories.design(group.owner, turns=3, style="bifilar")
    assert len(titles(owner.get("/designs/").content)) == 2
    (only,) = titles(owner.get("/designs/?style=bifilar").content)
    assert "3 turns bifilar" in only
    assert titles(owner.get("/designs/?turns_min=4&turns_max=8").content) == []
    assert "No design fits these filters" in markup.words(owner.get("/designs/?turns_min=99").content)


def test_sorting_by_name(owner: Client, group: Group):
    factories.design(group.owner, turns=3)
    found = titles(owner.get("/designs/?order=title").content)
    assert found == sorted(found)


def test_a_long_list_goes_on_where_it_stopped(owner: Client, group: Group):
    for turns in range(20, 50):
        factories.design(group.owner, turns=turns)
    first = owner.get("/designs/?order=title&purpose=choke")
    (more,) = [each for each in markup.read(first.content).all("a") if each.text == "More designs"]
    assert "purpose=choke" in more.attrs["href"]
    second = owner.get("/designs/" + more.attrs["href"])
    both = titles(first.content) + titles(second.content)
    assert len(both) == len(set(both)) == 31


def test_faulty_filters_are_said_beside_their_field(nobody: Client):
    answer = nobody.get("/designs/?turns_min=many")
    assert answer.status_code == 400 and "Enter a whole number." in markup.words(answer.content)


def test_a_design_says_its_recipe_in_words(nobody: Client, group: Group):
    words = markup.words(nobody.get(f"/designs/{group.design}/").content)
    assert "1:1 choke" in words
    assert "12 turns of coax, wound in one go" in words
    assert "mix 31" in words


def test_members_see_more_than_the_public(owner: Client, nobody: Client, group: Group):
    address = f"/designs/{group.design}/"
    members, public = (markup.words(client.get(address).content) for client in (owner, nobody))
    assert "7 devices" in members and "5–9 devices" in public
    # of six people there is no share and no range, for anybody
    for words in (members, public):
        assert "devices pass" not in words and "Eight in ten" not in words
    assert "You have 2 of these" in members and "You have" not in public


def test_the_page_says_the_chance_of_the_readers_own_build(owner: Client, nobody: Client, group: Group):
    for client in (owner, nobody):
        single = markup.words(client.get(f"/designs/{group.design}/").content)
        assert "A build of yours would" in single and "each by itself." in single
        joint = markup.words(client.get(f"/designs/{group.design}/?band=40m&band=30m").content)
        assert "A build of yours would very likely (9 in 10) meet 20 dB on 40 and 30 m." in joint
    # at another benchmark a chance would be a figure more than seven people allow
    assert "A build of yours" not in markup.words(
        owner.get(f"/designs/{group.design}/?benchmark_db=25").content
    )


def test_another_benchmark_has_no_verdict_below_ten_people_and_says_so(owner: Client, group: Group):
    words = markup.words(owner.get(f"/designs/{group.design}/?benchmark_db=35").content)
    assert "Band by band, at 35 dB" in words and "no verdict" in words
    assert "answered from 10 people on" in words


@pytest.mark.parametrize("view", ["rejection", "impedance", "both"])
def test_the_chart_as_a_specification(owner: Client, group: Group, view: str):
    answer = owner.get(f"/designs/{group.design}/chart.json?view={view}")
    assert answer.status_code == 200
    spec = json.loads(answer.content)
    assert spec["$schema"].endswith("v6.json") and len(answer.content) < 150_000


def test_the_median_on_the_page_is_the_released_one(owner: Client, group: Group):
    spec = json.loads(owner.get(f"/designs/{group.design}/chart.json?view=rejection").content)
    drawn = next(rows for rows in spec["datasets"].values() if "median" in rows[0])
    released = design_curves.get_design_curves(group.owner, group.design).rejection_db["median"]
    compared = [
        (row["median"], value) for row, value in zip(drawn, released, strict=True) if value is not None
    ]
    assert len(compared) > 50
    assert all(abs(shown - value) < 0.006 for shown, value in compared)


def test_the_public_chart_holds_no_single_curve(nobody: Client, group: Group):
    text = nobody.get(f"/designs/{group.design}/chart.json?view=both").content.decode()
    assert '"p10"' not in text and '"s0"' not in text


def test_the_picture_is_svg_and_may_do_nothing(nobody: Client, group: Group):
    answer = nobody.get(f"/designs/{group.design}/chart.svg?tone=dark")
    assert answer["Content-Type"].startswith("image/svg+xml")
    assert (
        "sandbox" in answer["Content-Security-Policy"]
        and "script-src" not in answer["Content-Security-Policy"]
    )
    assert ElementTree.fromstring(answer.content).tag.endswith("svg")


def test_without_javascript_there_is_a_picture(nobody: Client, group: Group):
    page = markup.read(nobody.get(f"/designs/{group.design}/").content)
    pictures = page.all("img")
    assert len(pictures) == 2  # rejection, and impedance below it
    for picture in pictures:
        assert nobody.get(picture.attrs["src"])["Content-Type"].startswith("image/svg+xml")


def test_the_table_behind_the_chart(nobody: Client, group: Group):
    assert "Median rejection, dB" in markup.words(nobody.get(f"/designs/{group.design}/").content)


@pytest.mark.parametrize("query", ["view=everything", "tone=pink", "benchmark_db=1"])
def test_a_chart_that_cannot_be_asked_for(nobody: Client, group: Group, query: str):
    assert nobody.get(f"/designs/{group.design}/chart.json?{query}").status_code == 400


def test_a_design_without_evidence(owner: Client, group: Group):
    key = factories.design(group.owner, turns=3)
    words = markup.words(owner.get(f"/designs/{key}/").content)
    assert "Not enough people have tested devices of this design" in words
    assert owner.get(f"/designs/{key}/chart.json").status_code == 404
