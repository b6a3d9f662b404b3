"""A list as CSV or NDJSON is whole unless `limit` asks for a page; each list says how many rows there are."""

from __future__ import annotations

import csv
import io
import json

import pytest
from django.http import StreamingHttpResponse

from api.http import paging
from tests import factories

LISTS = ("devices/", "tests/", "designs/", "designs/?order=title&turns_min=20")


@pytest.fixture
def many(scene):
    """Seven devices of Nils, each with a test and a design of its own."""
    owner = scene.viewers["stranger"]
    for number in range(7):
        device = factories.device(owner, factories.design(owner, turns=20 + number), tag=f"T-{number}")
        factories.record(owner, device, factories.choke_s2p(seed=200 + number, points=31))
    return scene


def more(path: str, words: str) -> str:
    return f"{path}{'&' if '?' in path else '?'}{words}"


def ids_of(reply, form: str) -> list[str]:
    text = (reply.getvalue() if reply.streaming else reply.content).decode()
    if form == "csv":
        return [row["id"] for row in csv.DictReader(io.StringIO(text, newline=""))]
    return [json.loads(line)["id"] for line in text.splitlines()]


@pytest.mark.parametrize("pages", [3, 200], ids=["streamed", "one page"])
@pytest.mark.parametrize("form", ["csv", "ndjson"])
@pytest.mark.parametrize("path", LISTS)
def test_without_limit_it_is_whole(many, monkeypatch, path, form, pages):
    whole = many.ask("stranger", "GET", more(path, "limit=200")).json()
    monkeypatch.setattr(paging, "MAX_LIMIT", pages)
    reply = many.ask_unchecked("stranger", "GET", more(path, f"format={form}"))
    assert isinstance(reply, StreamingHttpResponse) == (pages == 3)
    assert 'rel="next"' not in reply.get("Link", "")
    assert ids_of(reply, form) == [row["id"] for row in whole["results"]]
    assert len(whole["results"]) == whole["total"] >= 7


@pytest.mark.parametrize("form", ["csv", "ndjson"])
@pytest.mark.parametrize("path", LISTS)
def test_with_limit_the_link_says_that_there_is_more(many, path, form):
    reply = many.ask("stranger", "GET", more(path, f"limit=3&format={form}"))
    assert len(ids_of(reply, form)) == 3 and 'rel="next"' in reply["Link"]
    following = reply["Link"].split('rel="first", <')[1].split(">")[0].removeprefix("http://testserver")
    assert len(ids_of(many.ask("stranger", "GET", following), form)) == 3


@pytest.mark.parametrize("path", LISTS)
def test_total_is_the_same_on_every_page(many, path):
    seen, totals, address = 0, set(), more(path, "limit=3")
    while address:
        page = many.ask("stranger", "GET", address).json()
        seen += len(page["results"])
        totals.add(page["total"])
        address = page["next"] and page["next"].removeprefix("http://testserver")
    assert totals == {seen}


@pytest.mark.parametrize("path", ["bands/", "mixes/", "cores/", "conductors/", "benchmarks/", "releases/"])
def test_public_lists_say_how_many_rows_they_have(scene, path):
    page = scene.ask("anonymous", "GET", path).json()
    assert page["total"] == len(page["results"]) > 0


def test_a_total_counts_what_its_reader_may_see_alone(scene):
    assert scene.ask("stranger", "GET", "tests/").json()["total"] == 0
    assert scene.ask("owner", "GET", "tests/").json()["total"] == 2
    assert scene.ask("steward", "GET", "tests/").json()["total"] > 2
    evidence = scene.ask("anonymous", "GET", "evidence/").json()
    # one design has enough people, on the ten bands from 160 to 10 m; the rare one is in no row and no total
    assert [row["design"] for row in evidence["results"]] == [scene.popular] * 10
    assert len({row["band"] for row in evidence["results"]}) == evidence["total"] == 10


def test_a_bad_word_is_refused_before_the_first_line(many, monkeypatch):
    monkeypatch.setattr(paging, "MAX_LIMIT", 3)
    assert many.ask("stranger", "GET", "designs/?format=csv&band=nowhere").status_code == 400
    assert many.ask("anonymous", "GET", "tests/?format=csv").status_code == 401


def test_a_short_table_keeps_its_tag(scene):
    first = scene.ask("owner", "GET", "tests/?format=csv")
    again = scene.ask("owner", "GET", "tests/?format=csv", headers={"If-None-Match": first["ETag"]})
    assert (first.status_code, again.status_code) == (200, 304)
