"""Tools that read files in pieces: Range and If-Range (RFC 9110, 14), types, and the newest address."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from api.http import ranges
from measurements.services.releases import releases

NAME = "evidence.csv"


def of(scene, name: str = NAME) -> str:
    return f"releases/{scene.release}/files/{name}/"


@pytest.fixture
def whole(scene) -> bytes:
    reply = scene.ask("anonymous", "GET", of(scene))
    assert reply["Accept-Ranges"] == "bytes"
    return reply.getvalue()


def ask(scene, **headers: str):
    return scene.ask_unchecked("anonymous", "GET", of(scene), headers=headers)


def test_parts(scene, whole):
    """The examples of RFC 9110, 14.1.2, on a file of another length."""
    size = len(whole)
    for asked, first, last in (
        ("bytes=0-99", 0, 99),
        ("bytes=100-", 100, size - 1),
        ("bytes=-50", size - 50, size - 1),
        (f"bytes=-{size * 2}", 0, size - 1),
        (f"bytes=10-{size * 2}", 10, size - 1),
        ("bytes=0-0", 0, 0),
        ("BYTES=3-7", 3, 7),
    ):
        reply = ask(scene, Range=asked)
        content = reply.getvalue()
        assert (reply.status_code, content) == (206, whole[first : last + 1]), asked
        assert reply["Content-Range"] == f"bytes {first}-{last}/{size}"
        assert reply["Content-Length"] == str(len(content)) and reply["ETag"]
        assert "Content-Digest" not in reply and reply["Repr-Digest"].startswith("sha-256=:")
        assert "Content-Encoding" not in reply


@pytest.mark.parametrize(
    "asked", ["bytes=0-1,5-6", "lines=1-2", "bytes=", "bytes=-", "bytes=a-b", "bytes=9-3"]
)
def test_what_is_no_single_range_gets_the_whole(scene, whole, asked):
    reply = ask(scene, Range=asked)
    assert (reply.status_code, reply.getvalue()) == (200, whole)


def test_beyond_the_end(scene, whole):
    reply = ask(scene, Range=f"bytes={len(whole)}-")
    assert (reply.status_code, reply["Content-Range"]) == (416, f"bytes */{len(whole)}")
    assert reply.json()["code"] == "request.range"
    assert ask(scene, Range="bytes=-0").status_code == 416


def test_if_range_takes_the_strong_tag_alone(scene, whole):
    tag = ask(scene)["ETag"]
    assert ask(scene, Range="bytes=0-9", **{"If-Range": tag}).status_code == 206
    for other in (f"W/{tag}", '"other"', "Sun, 29 Nov 2026 18:00:00 GMT"):
        assert ask(scene, Range="bytes=0-9", **{"If-Range": other}).status_code == 200


def test_packed_replies_and_head(scene, whole):
    reply = ask(scene, Range="bytes=0-599", **{"Accept-Encoding": "gzip"})
    assert reply.getvalue() == whole[:600] and "Content-Encoding" not in reply
    head = scene.ask("anonymous", "HEAD", of(scene))
    assert (head["Content-Length"], head["Accept-Ranges"]) == (str(len(whole)), "bytes")


@given(st.lists(st.binary(max_size=7), max_size=9), st.data())
def test_cutting_is_slicing(pieces, data):
    joined = b"".join(pieces)
    if joined:
        first = data.draw(st.integers(0, len(joined) - 1))
        last = data.draw(st.integers(first, len(joined) - 1))
        assert b"".join(ranges.cut_pieces(pieces, first, last)) == joined[first : last + 1]


@pytest.mark.parametrize(
    ("name", "media_type"),
    [
        ("evidence.csv", "text/csv"),
        ("dictionary.json", "application/json"),
        ("LICENCE.txt", "text/plain"),
        ("manifest.json", "application/json"),
    ],
)
def test_files_have_their_own_type(scene, name, media_type):
    reply = scene.ask("anonymous", "GET", of(scene, name), headers={"Accept": media_type})
    assert reply["Content-Type"] == f"{media_type}; charset=utf-8"


@pytest.mark.parametrize("part", ["", f"files/{NAME}/", "files/manifest.json/"])
def test_the_newest_release_has_an_address_that_stays(scene, part):
    for number in (scene.release, scene.release + 1):
        reply = scene.ask("anonymous", "GET", f"releases/latest/{part}")
        assert (reply.status_code, reply["Location"]) == (302, f"/api/v1/releases/{number}/{part}")
        assert scene.ask("anonymous", "GET", reply["Location"]).status_code == 200
        releases.make_release()


def test_each_circle_gets_the_rows_that_it_may_see(scene):
    """The public sees designs from five persons on, members from three (house rule)."""
    address = scene.ask("anonymous", "GET", "releases/latest/files/evidence.csv/")["Location"]
    rows = {who: scene.ask(who, "GET", address).content.splitlines() for who in ("anonymous", "owner")}
    assert rows["anonymous"] != rows["owner"]  # counts are coarser
    assert not any(scene.rare.encode() in row for row in rows["anonymous"])


def test_the_feed_of_releases(scene):
    """RFC 4287, 4.1: what every feed and entry must have."""
    atom = "{http://www.w3.org/2005/Atom}"
    releases.make_release()
    reply = scene.ask("anonymous", "GET", "releases/feed/")
    assert reply["Content-Type"] == "application/atom+xml; charset=utf-8"
    feed = ElementTree.fromstring(reply.content)
    entries = feed.findall(f"{atom}entry")
    assert [entry.findtext(f"{atom}title") for entry in entries] == ["Release 2", "Release 1"]
    for each in (feed, *entries):
        assert each.findtext(f"{atom}id") and each.findtext(f"{atom}updated")
    assert scene.ask("owner", "GET", "releases/feed/").content == reply.content
    address = entries[0].findtext(f"{atom}id").removeprefix("http://testserver")
    assert scene.ask("anonymous", "GET", address).json()["number"] == 2


@pytest.mark.parametrize("release", ["{}", "latest"])
def test_a_file_without_the_slash_leads_to_itself(scene, release):
    """A data package names `evidence.csv` beside itself (Data Package, `path`)."""
    asked = f"/api/v1/releases/{release.format(scene.release)}/files/evidence.csv"
    for method in ("GET", "HEAD"):
        reply = scene.ask_unchecked("anonymous", method, asked)
        assert (reply.status_code, reply["Location"]) == (301, f"{asked}/")
    assert scene.ask_unchecked("anonymous", "POST", asked).status_code == 404
    other = scene.ask_unchecked("anonymous", "GET", "/api/v1/bands")
    assert other.status_code == 404 and "/api/v1/bands/" in other.json()["detail"]
