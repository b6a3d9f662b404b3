"""Content-Digest on what comes in: checked before anything is stored (RFC 9530)."""

from __future__ import annotations

import base64
import hashlib
import json

import pytest
from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart

from measurements.models import Device, Test
from tests import factories
from tests.api.scene import files_of

# RFC 9530, appendix D: the SHA-256 of {"hello": "world"} and a line end, as its examples give it
HELLO = b'{"hello": "world"}\n'
HELLO_DIGEST = "sha-256=:RK/0qy18MlBSVnWgjwz6lZEWjP/lF5HF9bvEF8FabDg=:"


def of(content: bytes, name: str = "sha256") -> str:
    digest = base64.b64encode(hashlib.new(name, content).digest()).decode()
    return f"sha-{name[3:]}=:{digest}:"


def send_device(scene, header: str, tag: str = "digested"):
    body = json.dumps({"design": scene.popular, "tag": tag}).encode()
    return scene.ask(
        "owner",
        "POST",
        "devices/",
        data=body,
        content_type="application/json",
        headers={"Content-Digest": header.replace("{right}", of(body)).replace("{512}", of(body, "sha512"))},
    )


def test_ours_is_the_one_of_the_rfc():
    from api.http import digests

    assert digests.compute_digest_field(HELLO) == HELLO_DIGEST


@pytest.mark.parametrize(
    "header", ["{right}", "{512}", "{right}, {512}", "unixsum=:AAA=:, {right}", " {512} , md5=:AAAA:"]
)
def test_the_right_one(scene, header):
    assert send_device(scene, header).status_code == 201


@pytest.mark.parametrize(
    ("header", "code"),
    [
        (of(b"else"), "request.digest_mismatch"),
        ("{right}, sha-512=:AAAA:", "request.digest_mismatch"),
        ("sha-256=:AAAA:", "request.digest_mismatch"),
        ("md5=:AAAA:", "request.digest_unknown"),
        ("sha-256=:AAAAA:", "request.digest_malformed"),
        ("sha-256=AAAA", "request.digest_malformed"),
        ("", "request.digest_malformed"),
    ],
)
def test_a_wrong_one_stores_nothing(scene, header, code):
    before = Device.objects.count()
    reply = send_device(scene, header)
    assert (reply.status_code, reply.json()["code"]) == (400, code)
    assert reply.json()["errors"][0]["field"] == "Content-Digest"
    assert Device.objects.count() == before


@pytest.mark.parametrize("cut", [0, 1])
def test_of_a_form_with_a_file(scene, cut):
    form = {
        "device": scene.device,
        "measured_on": "2026-03-20",
        "kind": "common_mode",
        "sweep": factories.choke_s2p(2345, seed=8),
    }
    body = encode_multipart(BOUNDARY, files_of(form))
    headers = {"Content-Digest": of(body[cut:])}
    before = Test.objects.count()
    reply = scene.ask("owner", "POST", "tests/", data=body, content_type=MULTIPART_CONTENT, headers=headers)
    assert reply.status_code == (400 if cut else 201)
    assert Test.objects.count() == before + (0 if cut else 1)


def test_what_follows_the_end_of_a_form_counts_as_well(scene):
    form = {"kind": "common_mode", "sweep": factories.choke_s2p()}
    body = encode_multipart(BOUNDARY, files_of(form)) + b"\r\n" * 9
    for content, status in ((body, 200), (body[:-1], 400)):
        reply = scene.ask(
            "anonymous",
            "POST",
            "analyse/",
            data=body,
            content_type=MULTIPART_CONTENT,
            headers={"Content-Digest": of(content)},
        )
        assert reply.status_code == status, reply.content


def test_a_request_without_a_body(scene):
    headers = {"Content-Digest": of(b"")}
    assert scene.ask("owner", "DELETE", f"tests/{scene.test}/", headers=headers).status_code == 204
