"""Scripts of other sites read what is public, and nothing with a token unless the group names their site."""

from __future__ import annotations

import pytest
from django.contrib.auth import get_user_model
from django.core.exceptions import ImproperlyConfigured
from django.test import Client

from deploy import environment
from tests.api.scene import BASE

HERE, THERE = "https://plots.example", "https://other.example"
ALLOW = "Access-Control-Allow-Origin"


def preflight(scene, path: str, method: str = "GET", headers: str = "", origin: str = HERE):
    asked = {"Origin": origin, "Access-Control-Request-Method": method}
    asked |= {"Access-Control-Request-Headers": headers} if headers else {}
    return scene.ask("anonymous", "OPTIONS", path, headers=asked)


@pytest.mark.parametrize(
    "path", ["", "bands/", "designs/?format=csv", "evidence/?format=ndjson", "schema/", "no/"]
)
def test_public_reads_are_open_to_every_site(scene, path):
    for _ in range(2):  # the second may come out of the cache
        reply = scene.ask("anonymous", "GET", path, headers={"Origin": HERE})
        assert reply[ALLOW] == "*" and "Link" in reply["Access-Control-Expose-Headers"]
        assert "Access-Control-Allow-Credentials" not in reply and "Origin" in reply["Vary"]
    assert ALLOW not in scene.ask("anonymous", "GET", path)


def test_a_refusal_can_be_read_as_well(scene, settings):
    reply = scene.ask("anonymous", "GET", "devices/", headers={"Origin": HERE})
    assert reply.status_code == 401 and reply[ALLOW] == "*"


def test_not_with_a_token_by_default(scene):
    assert ALLOW not in scene.ask("owner", "GET", "devices/", headers={"Origin": HERE})
    assert ALLOW not in scene.ask("owner", "GET", "bands/", headers={"Origin": HERE})
    assert ALLOW not in preflight(scene, "devices/", headers="authorization")


def test_with_a_token_from_a_named_site(scene, settings):
    settings.BENCHNIGHT_TOKEN_ORIGINS = [HERE]
    assert scene.ask("owner", "GET", "devices/", headers={"Origin": HERE})[ALLOW] == HERE
    assert ALLOW not in scene.ask("owner", "GET", "devices/", headers={"Origin": THERE})
    reply = preflight(scene, "devices/", "POST", "Authorization, content-type, Idempotency-Key")
    assert reply[ALLOW] == HERE and "POST" in reply["Access-Control-Allow-Methods"]
    assert {"Authorization", "Idempotency-Key"} <= set(reply["Access-Control-Allow-Headers"].split(", "))
    assert ALLOW not in preflight(scene, "devices/", "POST", "authorization", THERE)


def test_named_sites_for_public_reads(scene, settings):
    settings.BENCHNIGHT_PUBLIC_ORIGINS = [HERE]
    assert scene.ask("anonymous", "GET", "bands/", headers={"Origin": HERE})[ALLOW] == HERE
    assert ALLOW not in scene.ask("anonymous", "GET", "bands/", headers={"Origin": THERE})


def test_a_preflight_without_a_token_allows_reading_alone(scene):
    reply = preflight(scene, "designs/", "GET", "if-none-match")
    assert (reply.status_code, reply[ALLOW], reply["Access-Control-Allow-Methods"]) == (204, "*", "GET, HEAD")
    assert "Authorization" not in reply["Access-Control-Allow-Headers"]
    assert preflight(scene, "analyse/", "POST")["Access-Control-Allow-Methods"] == ""


def test_never_with_the_sites_own_sign_in(scene):
    client = Client()
    client.force_login(get_user_model().objects.get(pk=scene.viewers["owner"].member_id))
    reply = client.get(f"{BASE}devices/", headers={"Origin": HERE})
    assert reply.status_code == 200 and ALLOW not in reply


def test_computing_is_no_read(scene):
    reply = scene.ask("anonymous", "POST", "analyse/", headers={"Origin": HERE}, form={"kind": "dc"})
    assert ALLOW not in reply


@pytest.mark.parametrize(
    "given", ["plots.example", "https://plots.example/", "https://a.example/x", "ftp://a.example"]
)
def test_what_is_no_origin_stops_the_start(monkeypatch, given):
    monkeypatch.setenv("BENCHNIGHT_TOKEN_ORIGINS", given)
    with pytest.raises(ImproperlyConfigured, match="TOKEN_ORIGINS"):
        environment.read_environment()
