"""What somebody sends who means harm is refused in words, and never a fault of ours."""

from __future__ import annotations

import base64

import pytest
from django.test import Client

from tests import factories
from tests.api import reply_validation

SHAPE = "Give a list such as"


def readings(scene, text: str):
    form = {"kind": "common_mode", "calibrated": "true", "readings": text}
    return scene.ask("anonymous", "POST", "analyse/", form=form)


@pytest.mark.parametrize(
    "text",
    [
        "[" * 100_000,
        '{"a":' * 50_000,
        '[{"a":' * 50_000,
        '[{"frequency_hz": 7100000, "value": 30, "value": 40}]',
        '[{"frequency_hz": ' + "9" * 5000 + ', "value": 30}]',
        '"\\ud800"',
    ],
    ids=["lists", "objects", "both", "named twice", "a long number", "half a character"],
)
def test_json_in_a_field_of_a_form(scene, text):
    reply = readings(scene, text)
    problem = reply_validation.problem(reply)
    assert reply.status_code == 400 and problem["errors"][0]["field"] == "readings"
    assert problem["errors"][0]["detail"].startswith(SHAPE)


@pytest.mark.parametrize(
    "inside", [b"[" * 2800, b'{"a":' * 560, b"9" * 2800, b'["\\ud800"]', b"[NaN, 1e999]"]
)
@pytest.mark.parametrize(
    ("address", "status"),
    [("/api/v1/designs/?cursor=", 400), ("/api/v1/releases/?cursor=", 400), ("/designs/?page=", 200)],
)
def test_json_in_a_cursor(scene, address, status, inside):
    """A page takes what is no number for its first one."""
    cursor = base64.urlsafe_b64encode(inside).decode().rstrip("=")
    reply = Client().get(f"{address}{cursor}")
    assert reply.status_code == status, reply.content[:200]


METHODS = ("X-HTTP-Method-Override", "X-HTTP-Method", "X-Method-Override")


@pytest.mark.parametrize("header", METHODS)
def test_no_header_and_no_word_makes_another_method_of_it(scene, header):
    """A POST that says it is a DELETE stays what it is."""
    for role, path in (("owner", f"tests/{scene.test}/"), ("owner", f"devices/{scene.device}/")):
        reply = scene.ask(role, "POST", f"{path}?_method=DELETE", json={}, headers={header: "DELETE"})
        assert reply.status_code == 405
    reply = scene.ask("owner", "GET", f"tests/{scene.test}/", headers={header: "DELETE"})
    assert reply.status_code == 200
    assert scene.ask("owner", "GET", f"tests/{scene.test}/").status_code == 200


def test_headers_that_name_another_host_are_not_believed(scene):
    """What is kept for everybody must not lead anybody elsewhere."""
    told = {"X-Forwarded-Host": "elsewhere.example", "Forwarded": "host=elsewhere.example"}
    for path in ("", "designs/?limit=1", "releases/"):
        for headers in (told, {}):
            reply = scene.ask("anonymous", "GET", path, headers=headers)
            assert reply.status_code == 200 and b"elsewhere.example" not in reply.content
            assert "elsewhere.example" not in reply.get("Link", "")


@pytest.mark.parametrize("boundary", ["", '""', '"a\tb"', "x" * 5000, "\xe9"])
def test_a_form_whose_parts_cannot_be_told_apart(scene, boundary):
    body = b'--x\r\nContent-Disposition: form-data; name="kind"\r\n\r\nbalance\r\n--x--\r\n'
    kind = f"multipart/form-data; boundary={boundary}"
    reply = scene.ask("anonymous", "POST", "analyse/", data=body, content_type=kind)
    assert reply.status_code in (400, 415)


PARTS = {
    "nameless": b"Content-Disposition: form-data",
    "without a head": b"",
    "long name": b'Content-Disposition: form-data; name="' + b"n" * 100_000 + b'"',
    "long head": b'Content-Disposition: form-data; name="kind"\r\nX: ' + b"y" * 1_000_000,
    "many heads": b'Content-Disposition: form-data; name="kind"' + b"\r\nX: y" * 10_000,
    "unknown coding": b"Content-Disposition: form-data; name=\"sweep\"; filename*=hex''zz.s2p",
    "broken base64": b'Content-Disposition: form-data; name="sweep"; filename="a.s2p"\r\n'
    b"Content-Transfer-Encoding: base64",
}


@pytest.mark.parametrize("part", PARTS)
def test_parts_that_no_browser_sends(scene, part):
    body = b"--x\r\n" + PARTS[part] + b"\r\n\r\n!?\r\n--x--\r\n"
    kind = "multipart/form-data; boundary=x"
    reply = scene.ask("anonymous", "POST", "analyse/", data=body, content_type=kind)
    assert reply.status_code == 400


@pytest.mark.parametrize(
    "name", ["a\r\nX-Planted: y.s2p", "../../../etc/passwd.s2p", "a\0b.s2p", "\u202ea.s2p"]
)
def test_a_file_name_stays_a_name(scene, name):
    """As a header of a part could bring it: it is stored without what would leave a header or a folder."""
    key = factories.record(scene.viewers["owner"], scene.device, factories.choke_s2p(901, seed=19), name=name)
    reply = scene.ask("owner", "GET", f"tests/{key}/sweeps/sweep/")
    assert reply.status_code == 200 and "X-Planted" not in reply
    told = reply["Content-Disposition"]
    assert told.startswith("attachment; filename") and told.isprintable() and "/" not in told


def test_a_tag_of_several_lines_is_one_line(scene):
    """It goes into calendars, labels and tables, where a line of its own would be an entry of its own."""
    content = {"design": scene.popular, "tag": "C-7\r\nBEGIN:VEVENT"}
    reply = scene.ask("owner", "POST", "devices/", json=content)
    assert reply.status_code == 201 and reply.json()["tag"] == "C-7 BEGIN:VEVENT"
    for tag in ("C\x1b[31m", "\u202eabc", "a\0b"):
        refused = scene.ask("owner", "POST", "devices/", json={"design": scene.popular, "tag": tag})
        assert refused.status_code == 400


def test_a_cookie_that_is_no_session_gets_what_everybody_gets(scene, settings):
    """Neither is it answered from what is kept, nor is what it is answered kept."""
    plain = Client().get(f"/api/v1/designs/{scene.popular}/").json()
    for cookie in ("", "x" * 4000, "'; DROP TABLE", "../../etc/passwd"):
        client = Client()
        client.cookies[settings.SESSION_COOKIE_NAME] = cookie
        assert client.get(f"/api/v1/designs/{scene.popular}/").json() == plain
        assert client.get(f"/designs/{scene.popular}/").status_code == 200


@pytest.mark.parametrize("role", ["owner", "operator", "steward"])
def test_no_order_of_asking_hands_a_members_answer_to_the_public(scene, role):
    """Token and session, before and after the public, on both doors."""
    from django.contrib.auth import get_user_model

    path = f"designs/{scene.popular}/evidence/?band=40m"
    public = Client().get(f"/api/v1/{path}").json()
    member = Client()
    member.force_login(get_user_model().objects.get(pk=scene.viewers[role].member_id))
    page = f"/designs/{scene.popular}/?band=40m"
    public_page = Client().get(page).content
    for _ in range(2):
        mine = scene.ask(role, "GET", path).json()
        assert mine != public and member.get(f"/api/v1/{path}").json() == mine
        assert member.get(page).content != public_page
        assert Client().get(f"/api/v1/{path}").json() == public
        assert Client().get(page).content == public_page
        assert Client().head(page).status_code == 200
    wrong = {"Authorization": "Token nothing"}
    assert Client().get(f"/api/v1/{path}", headers=wrong).status_code == 401
