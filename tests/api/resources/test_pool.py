"""The pool of groups through the API: envelopes, files, and the copy that a group shows."""

from __future__ import annotations

import io
import json
from typing import Any

import numpy as np
import pytest
from django.test import Client

from measurements.models import KeptRecord
from measurements.services.bundles import signing
from measurements.services.pooling import copies, keeper_groups, seats, transport
from measurements.services.pooling.keeper_releases import make_pooled_release
from tests import factories
from tests.services.pooling import loopback
from tests.services.pooling.invented_groups import (
    ADDRESS,
    InventedGroup,
    build_design,
    invent_groups,
    read_reply,
    seal,
)

pytestmark = pytest.mark.django_db
V1 = "/api/v1/"


def send(address: str, sealed: bytes) -> Any:
    """Post an envelope as a form."""
    return Client().post(f"{V1}pool/{address}/", {"message": io.BytesIO(sealed)})


def get(address: str) -> Any:
    return Client().get(f"{V1}{address}")


def publish() -> list[InventedGroup]:
    """Three groups in a pooled release."""
    groups = invent_groups(3)
    for group in groups:
        for worst_db in (25.0, 27.0):
            group.build(build_design(), worst_db)
        group.send()
    make_pooled_release()
    return groups


def join_here(settings) -> None:
    """This server's own group takes part in the pool that it keeps."""
    settings.BENCHNIGHT_GROUP_NAME = "Harbour club"
    line = str(keeper_groups.invite_group(by=None, address=ADDRESS, name="Harbour club"))
    seats.join_pool(by=None, invitation=line, post=loopback.post)


def test_without_a_pool_there_is_nothing():
    assert get("pool/").json() == {"in_pool": False, "release": None, "keeps": None}
    assert get("pool/evidence/").json()["results"] == []
    assert get("pool/releases/latest.json/").getvalue() == b'{"release": 0}\n'
    assert get("pool/releases/1/evidence.csv/").status_code == 404


def test_a_group_joins_and_sends_over_the_api():
    group = InventedGroup("Club", np.random.default_rng(1))
    made = keeper_groups.invite_group(by=None, address=ADDRESS, name="Club")
    content = {"form": 1, "keeper": made.key, "code": made.code, "name": "Club"}
    answer = send("groups", seal(group.key, content, "join"))
    assert answer.status_code == 200
    assert read_reply(answer.content)["number"] == 0
    group.build(build_design(), 24.0)
    answer = send("sendings", seal(group.key, group.build_content(), "sending"))
    assert read_reply(answer.content)["new"] == 1
    assert KeptRecord.objects.count() == 1


@pytest.mark.parametrize("address", ["groups", "sendings"])
@pytest.mark.parametrize("sealed", [b"", b"{}", b"\xff\xfe", b"[" * 5000, b'{"key": 1}'])
def test_what_is_no_envelope_is_refused_with_a_problem(address, sealed):
    answer = send(address, sealed)
    assert answer.status_code in (400, 422)
    assert answer["Content-Type"].startswith("application/problem+json")


def test_a_stranger_is_refused():
    stranger = InventedGroup("Stranger", np.random.default_rng(1))
    answer = send("sendings", seal(stranger.key, {"form": 1}, "sending"))
    assert (answer.status_code, answer.json()["code"]) == (403, "pool.unknown_group")


def test_the_files_are_served_as_they_were_signed(settings):
    publish()
    assert get("pool/releases/latest.json/").getvalue() == b'{"release": 1}\n'
    reply = get("pool/releases/1/datapackage.json/")
    manifest = b"".join(reply.streaming_content)
    described = json.loads(manifest)
    for resource in described["resources"]:
        content = b"".join(get(f"pool/releases/1/{resource['path']}/").streaming_content)
        assert len(content) == resource["bytes"]
    signature = b"".join(get("pool/releases/1/datapackage.sig/").streaming_content).decode()
    key = signing.get_public_key()
    assert signing.is_signed(manifest, bytes.fromhex(signature.strip()), key, b"benchnight pool release 1\n")
    assert get("pool/").json()["keeps"] == {"groups": 3, "release": 1}


def test_pooled_evidence_has_a_row_a_band(settings):
    key = factories.design(factories.member("Own"))
    publish()
    join_here(settings)
    copies.fetch_release(get=loopback.get)
    state = get("pool/").json()
    assert (state["in_pool"], state["release"]["number"], state["release"]["designs"]) == (True, 1, 1)
    rows = get("pool/evidence/").json()
    assert rows["total"] == 9
    first = rows["results"][0]
    assert (first["design"], first["groups"], first["verdict"]) == (key, 3, "typically_meets")
    led = get("evidence/?pool=1&design=" + key)
    assert (led.status_code, led["Location"].endswith(f"pool/evidence/?design={key}")) == (302, True)
    assert get(f"pool/evidence/?design={key}").json()["total"] == 9
    assert get("pool/evidence/?design=222222222222").status_code == 404
    assert get("pool/evidence/?format=csv").content.decode().count("typically_meets") == 9


def test_two_servers_talk_over_http(live_server, settings):
    """The way there and back with nothing replaced: form, envelope, files."""
    settings.BENCHNIGHT_GROUP_NAME = "Harbour club"
    publish()
    address = live_server.url
    line = str(keeper_groups.invite_group(by=None, address=address, name="Harbour club"))
    seats.join_pool(by=None, invitation=line)
    from measurements.services.pooling import sendings

    assert sendings.send_votes().number == 1
    assert copies.fetch_release().number == 1
    with pytest.raises(Exception, match="refused"):
        transport.get(f"{address}/api/v1/pool/releases/9/evidence.csv/")


@pytest.mark.parametrize(
    "address",
    ["http://example.com", "file:///etc/passwd", "https://", "https://a@b.example", "https://x.example/?q=1"],
)
def test_other_addresses_are_not_asked(address):
    with pytest.raises(Exception, match="no address of a keeper"):
        transport.get(address)
