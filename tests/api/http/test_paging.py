"""Lists: every row once, in pages of the size asked for, with cursors that say nothing."""

from __future__ import annotations

import base64
import json
import re

import pytest

from tests import factories


@pytest.fixture
def many(scene):
    owner = scene.viewers["stranger"]
    for number in range(7):
        device = factories.device(owner, factories.design(owner, turns=20 + number), tag=f"T-{number}")
        factories.record(owner, device, factories.choke_s2p(seed=200 + number, points=31))
    return scene


def walk(scene, path: str) -> list[list[str]]:
    """The names of the rows of each page, following `next`."""
    pages = []
    while path:
        page = scene.ask("stranger", "GET", path).json()
        pages.append([row.get("id") or (row["design"], row["band"], row["kind"]) for row in page["results"]])
        path = page["next"] and page["next"].removeprefix("http://testserver")
        assert len(pages) < 60
    return pages


@pytest.mark.parametrize(
    "path", ["devices/", "tests/", "designs/", "designs/?order=title&turns_min=20", "evidence/"]
)
def test_pages_hold_every_row_once_and_keep_the_question(many, path):
    more = f"{path}{'&' if '?' in path else '?'}"
    whole = walk(many, f"{more}limit=200")
    assert len(whole) == 1
    pages = walk(many, f"{more}limit=3")
    assert [key for page in pages for key in page] == whole[0]
    assert all(len(page) == 3 for page in pages[:-1]) and pages[-1]


def test_a_new_row_does_not_shift_the_pages(many):
    first = many.ask("stranger", "GET", "devices/?limit=3").json()
    factories.device(many.viewers["stranger"], many.rare, tag="late")
    second = many.ask("stranger", "GET", first["next"].removeprefix("http://testserver")).json()
    assert not {row["id"] for row in first["results"]} & {row["id"] for row in second["results"]}


def test_tables_name_the_next_page_in_a_header(many):
    reply = many.ask("stranger", "GET", "devices/?limit=3&format=csv")
    address = re.fullmatch(r'<(.+)>; rel="next"', reply["Link"]).group(1)
    assert "format=csv" in address and "cursor=" in address
    assert len(reply.content.decode().splitlines()) == 4


@pytest.mark.parametrize("cursor", ["x", "e30", "eyJza2lwIjotMX0", "%00", "a" * 300, "eyJza2lwIjoxZTk5fQ"])
@pytest.mark.parametrize("path", ["devices/", "tests/", "designs/", "releases/", "evidence/"])
def test_a_cursor_of_somebody_else(scene, path, cursor):
    assert scene.ask("owner", "GET", f"{path}?cursor={cursor}").status_code == 400


def cursor_of(address: str) -> dict:
    text = re.search(r"cursor=([\w-]+)", address).group(1)
    return json.loads(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))


@pytest.mark.parametrize(("path", "moment"), [("devices/", "registered_at"), ("tests/", "recorded_at")])
def test_a_cursor_holds_what_its_reader_has_just_been_shown(many, path, moment):
    """A row number in it would count what the whole group stores."""
    page = many.ask("stranger", "GET", f"{path}?limit=3").json()
    position, last = cursor_of(page["next"]), page["results"][-1]
    assert set(position) == {"at", "key"} and position["key"] == last["id"]
    assert position["at"].split("+")[0] == last[moment].removesuffix("Z")


@pytest.mark.parametrize("path", ["devices/", "tests/"])
@pytest.mark.parametrize(
    "position",
    [
        {"at": "yesterday", "key": "x"},
        {"at": "2026-01-01T00:00:00", "key": "x"},
        {"at": "0001-01-01T00:00:00+23:00", "key": "x"},
        {"at": "2026-01-01T00:00:00+00:00", "key": "\0"},
        {"before": 7},
    ],
)
def test_a_position_that_no_page_ends_at(scene, path, position):
    cursor = base64.urlsafe_b64encode(json.dumps(position).encode()).decode().rstrip("=")
    assert scene.ask("owner", "GET", f"{path}?cursor={cursor}").status_code == 400
