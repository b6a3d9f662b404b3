"""A motivated reader tries the doors themselves: statuses, headers, cursors, times, moves between releases.

The reader is a member with an account, or nobody; what they look for is somebody else's.
"""

from __future__ import annotations

import base64
import hashlib
import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from measurements.models import Contributor, Device, Member, Test
from measurements.services.tests import tests
from tests import factories
from tests.disclosure_end_to_end import site_reader
from tests.disclosure_end_to_end.conftest import Seen
from tests.disclosure_end_to_end.planted_group import Planted, sweep

NOWHERE = "2" * 12  # in the form of a key, and nobody's
# what differs between any two replies, and never because of others: limits, tokens of forms, own new files
PASSING = re.compile(
    rb'(?im)^(?:RateLimit|Set-Cookie|Expires): .*$|name="(?:csrfmiddlewaretoken|held_sweep)" value="[^"]+'
    rb"|[-\d]{10}, [\d:]{5} UTC(?=<br>this one)"  # when the reader's own browser signed in
    rb"|(?<=^Location: /check/kept/)[\w-]{43}(?=/$)"  # random: the way back to the reader's own new files
)
# a page that makes a new secret for its reader at every view, and shows nothing else
NEW_EACH_TIME = {"/account/second-factor/app/"}
FORMS = ("", "?format=csv", "?format=svg", "?format=png")


def form(device: str, **changes: Any) -> dict[str, Any]:
    given = {"kind": "common_mode", "device": device, "measured_on": "2026-02-17", **changes}
    return given | {"sweep": SimpleUploadedFile("s.s2p", sweep(seed=9))}


def api_tries(device: str, test: str) -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Method, address and options of every try at something of somebody's."""
    for path in (f"devices/{device}/", f"tests/{test}/", f"tests/{test}/chart/", f"tests/{test}/comparison/"):
        yield from (("get", f"{path}{words}", {}) for words in FORMS)
    for role in ("sweep", "far_open"):
        yield "get", f"tests/{test}/sweeps/{role}/", {}
    yield "get", f"tests/?device={device}", {}
    yield "delete", f"tests/{test}/", {}
    for match in ({}, {"If-Match": f'"{device}.1"'}, {"If-Match": "*"}):
        options = {"data": {"notes": "x"}, "content_type": "application/json", "headers": match}
        yield "patch", f"devices/{device}/", options
    yield "post", "tests/", {"data": form(device)}
    for address in ("analyse/", "tests/"):
        partner = {"kind": "insertion_loss", "method": "known_partner", "partner": test}
        yield "post", address, {"data": form(device, **partner)}


def page_tries(device: str, test: str) -> Iterator[tuple[str, str, dict[str, Any]]]:
    for path in (
        f"/devices/{device}/",
        f"/devices/{device}/change/",
        f"/tests/{test}/",
        f"/tests/{test}/withdraw/",
        f"/tests/{test}/chart.json",
        f"/tests/{test}/chart.svg",
        f"/tests/{test}/sweeps/sweep/",
        f"/upload/?kind=common_mode&device={device}",
    ):
        yield "get", path, {}
    for path in (f"/devices/{device}/change/", f"/tests/{test}/withdraw/"):
        yield "post", path, {"data": {"share": "publish", "private": "yes", "tag": "x", "version": "1"}}
    upload = form(device, design="", calibrated="true") | {"tag": "", "origin": "homebrew"}
    yield "post", "/upload/", {"data": upload}


def masked(reply: Any, *keys: str) -> tuple[int, bytes]:
    """Status, headers and body of a reply without the keys that were asked for."""
    kept = site_reader.Reading()
    kept.take("", reply)
    text = PASSING.sub(b"", kept.replies[""])
    for key in keys:
        text = text.replace(key.encode(), b"KEY")
    return kept.statuses[""], text


@pytest.mark.parametrize("who", ["anonymous", "member", "operator"])
def test_somebodys_and_nobodys_look_alike_over_the_api(planted: Planted, who: str):
    headers = {"Authorization": f"Token {planted.tokens[who]}"} if who in planted.tokens else {}
    theirs = api_tries(planted.device, planted.test)
    for (method, path, options), (_, other_path, other_options) in zip(
        theirs, api_tries(NOWHERE, NOWHERE), strict=True
    ):
        replies = [
            getattr(Client(headers=headers), method)(f"/api/v1/{each}", **given)
            for each, given in ((path, options), (other_path, other_options))
        ]
        looks = [masked(reply, planted.device, planted.test, NOWHERE) for reply in replies]
        assert looks[0] == looks[1], (method, path)
        refused = looks[0][0] >= 400 or b'"results":[]' in looks[0][1]
        assert refused or path.startswith("tests/?device"), (method, path)


@pytest.mark.parametrize("who", ["anonymous", "member", "operator"])
def test_somebodys_and_nobodys_look_alike_on_the_pages(planted: Planted, who: str):
    for (method, path, options), (_, other_path, other_options) in zip(
        page_tries(planted.device, planted.test), page_tries(NOWHERE, NOWHERE), strict=True
    ):
        looks = [
            masked(
                getattr(planted.browser(who), method)(each, **given), planted.device, planted.test, NOWHERE
            )
            for each, given in ((path, options), (other_path, other_options))
        ]
        assert looks[0] == looks[1], (method, path)
    assert Test.objects.filter(key=planted.test).exists()
    assert Device.objects.get(key=planted.device).version == 2  # changed once, by its owner


@pytest.mark.parametrize("who", ["anonymous", "member"])
def test_nothing_moves_between_releases(planted: Planted, seen: Seen, who: str):
    """Others record, test again and withdraw: not a byte, a count or a header changes before a release."""
    before = seen(who)
    tests.withdraw_test(by=planted.owner, test=planted.test)
    late = factories.member("late")
    for seed, by in enumerate((late, planted.owner), start=41):
        device = factories.device(by, planted.design, tag=f"new-{seed}")
        factories.record(by, device, factories.choke_s2p(900, seed=seed, points=51))
    after = site_reader.everything(planted, who)
    moved = {
        address
        for address in (before.replies.keys() | after.replies.keys()) - NEW_EACH_TIME
        if PASSING.sub(b"", before.replies.get(address, b""))
        != PASSING.sub(b"", after.replies.get(address, b""))
    }
    assert moved == set()


@pytest.mark.parametrize("who", ["anonymous", "member"])
def test_times_that_leave_are_those_of_releases(seen: Seen, who: str):
    """No reply tells to the second when somebody did something; nor does one carry Last-Modified."""
    moment = re.compile(rb"\d{4}-\d\d-\d\d[T ]\d\d:\d\d[^\"<,\s]*")
    found = seen(who)
    (release,) = json.loads(found.replies["/api/v1/releases/?format=json"].split(b"\n\n", 1)[1])["results"]
    day = release["made_at"][:16].encode()
    for address, reply in found.replies.items():
        assert {each for each in moment.findall(reply) if not each.startswith(day)} == set(), address
        assert b"last-modified:" not in reply.split(b"\n\n", 1)[0].lower(), address


def test_entity_tags_are_made_of_what_their_reader_has(seen: Seen):
    """A hash of the content itself, also behind the version of an own device; a stream's is under a key."""
    for who in ("anonymous", "member"):
        untold = {}
        for address, reply in seen(who).replies.items():
            head, _, content = reply.partition(b"\n\n")
            tag = re.search(rb'(?im)^etag: "([^"]+)"', head)
            digest = hashlib.sha256(content).hexdigest()
            if tag is None or tag[1].decode().split(":")[-1] in (digest, digest[:32], digest[:16]):
                continue
            untold[address] = tag[1]
        # pages carry none; what is left is the evidence as a table, whose tag is known before its rows
        assert all(re.search(r"/api/v1/evidence/\?.*format=", address) for address in untold), untold


def test_cursors_hold_no_row_number_and_count_nothing_of_others(planted: Planted):
    """What stands in each cursor is a place among the rows that this reader can page through anyway."""
    mine = factories.member("Nils")
    for number in range(3):
        device = factories.device(mine, planted.design, tag=f"mine-{number}")
        factories.record(mine, device, factories.choke_s2p(seed=80 + number, points=51))
    client = Client(headers={"Authorization": f"Token {planted.tokens['member']}"})
    kinds = {}
    for path in ("devices", "tests", "designs", "evidence"):
        following = client.get(f"/api/v1/{path}/?limit=1").json()["next"]
        if following is not None:
            text = re.search(r"cursor=([\w-]+)", following).group(1)
            kinds[path] = json.loads(base64.urlsafe_b64decode(text + "=" * (-len(text) % 4)))
    assert {path: set(position) for path, position in kinds.items()} == {
        "devices": {"at", "key"},
        "tests": {"at", "key"},
        "evidence": {"design", "skip"},
    }
    assert kinds["evidence"] == {"design": planted.design, "skip": 1}


def test_keys_tell_neither_order_nor_number(seen: Seen):
    """Keys in the order in which their rows were made are in no order themselves, and hold no row number."""
    for table in (Test, Device, Contributor):
        made = list(table.objects.order_by("pk").values_list("key", flat=True))
        assert len(made) >= 6 and made != sorted(made) and made != sorted(made, reverse=True)
        assert all(re.fullmatch("[2-9a-hjkmnp-tv-z]{12}", key) for key in made)
    for address, reply in seen("member").replies.items():
        for name in (b"pk", b"row_id", b"member_id", b"contributor_id", b"device_id", b"design_id"):
            assert b'"' + name + b'":' not in reply, address
    assert Member.objects.count() >= 8
