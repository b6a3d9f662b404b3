"""How often one client may ask, and what it is told about it."""

from __future__ import annotations

import pytest

from measurements.models import UseCount
from tests import factories
from tests.api import reply_validation


@pytest.fixture(autouse=True)
def _few(scene, settings):
    settings.BENCHNIGHT_ANONYMOUS_PER_MINUTE = 3
    settings.BENCHNIGHT_TOKEN_PER_MINUTE = 4
    settings.BENCHNIGHT_ANALYSE_PER_MINUTE = 2


@pytest.fixture(autouse=True)
def _one_window(monkeypatch):
    """No window ends in the middle of a test."""
    monkeypatch.setattr("measurements.services.operations.use_counts.time.time", lambda: 1_700_000_010.0)


def left(reply) -> int:
    return int(reply["RateLimit"].split("r=")[1].split(";")[0])


def test_the_limit_is_announced_counted_down_and_kept(scene):
    replies = [scene.ask("anonymous", "GET", "bands/") for _ in range(5)]
    assert [reply.status_code for reply in replies] == [200, 200, 200, 429, 429]
    assert [left(reply) for reply in replies] == [2, 1, 0, 0, 0]
    assert replies[0]["RateLimit-Policy"] == '"anonymous";q=3;w=60'
    problem = reply_validation.problem(replies[-1])
    assert problem["code"] == "limit.requests" and "3 requests a minute" in problem["detail"]
    assert int(replies[-1]["Retry-After"]) <= 60


def test_a_token_has_a_limit_of_its_own(scene):
    assert [scene.ask("owner", "GET", "bands/").status_code for _ in range(5)] == [200] * 4 + [429]
    assert scene.ask("stranger", "GET", "bands/").status_code == 200
    assert scene.ask("anonymous", "GET", "bands/").status_code == 200


def test_analyse_counts_apart(scene):
    statuses = [scene.ask("anonymous", "POST", "analyse/", form={"kind": "x"}).status_code for _ in range(3)]
    assert statuses == [400, 400, 429]
    assert scene.ask("anonymous", "GET", "bands/").status_code == 200
    assert scene.ask("owner", "POST", "analyse/", form={"kind": "x"}).status_code == 400


def test_uploads_have_an_hourly_limit_which_the_refusal_announces(scene, settings):
    settings.BENCHNIGHT_TOKEN_PER_MINUTE, settings.BENCHNIGHT_UPLOADS_PER_HOUR = 1000, 1
    about = {"device": scene.device, "measured_on": "2026-03-15", "kind": "common_mode", "calibrated": "true"}
    forms = [{**about, "sweep": factories.choke_s2p(seed=seed, points=31)} for seed in (911, 912)]
    replies = [scene.ask_unchecked("owner", "POST", "tests/", form=form) for form in forms]
    assert [reply.status_code for reply in replies] == [201, 429]
    assert replies[1]["RateLimit-Policy"] == '"uploads";q=1;w=3600'
    assert int(replies[1]["Retry-After"]) > 60
    assert reply_validation.problem(replies[1])["code"] == "limit.uploads"


def test_only_new_uploads_use_up_the_hour(scene, settings):
    """What is stored already, refused or cut off is no new test."""
    settings.BENCHNIGHT_TOKEN_PER_MINUTE, settings.BENCHNIGHT_UPLOADS_PER_HOUR = 1000, 2
    about = {"device": scene.device, "measured_on": "2026-03-15", "kind": "common_mode", "calibrated": "true"}

    def send(seed: int, **changed: object):
        form = {**about, "sweep": factories.choke_s2p(seed=seed, points=31), **changed}
        return scene.ask_unchecked("owner", "POST", "tests/", form=form)

    assert send(901).status_code == 201
    for _ in range(4):
        assert send(901).status_code == 200
        assert send(902, sweep=b"# Hz S RI R 50\n1 2\n").status_code == 400
        assert send(902, kind="nonsense").status_code == 400
        assert send(902, device="nobodys").status_code == 404
    cut = scene.ask_unchecked(
        "owner", "POST", "tests/", data=b"--x\r\nContent-Disp", content_type="multipart/form-data; boundary=x"
    )
    assert cut.status_code == 400
    assert send(903).status_code == 201
    refused = send(904)
    assert refused.status_code == 429 and refused["RateLimit-Policy"] == '"uploads";q=2;w=3600'
    assert send(903).status_code == 200  # a repeat stores nothing, so it is answered beyond the limit too


def test_options_cost_nothing(scene):
    for _ in range(5):
        assert scene.ask("anonymous", "OPTIONS", "bands/").status_code == 204
    assert left(scene.ask("anonymous", "GET", "bands/")) == 2


@pytest.mark.parametrize("path", ["nowhere/", "bands/?x=1", "releases/0/", "bands/?format=x"])
def test_refused_requests_count_too(scene, path):
    for _ in range(3):
        assert scene.ask("anonymous", "GET", path).status_code in (400, 404)
    assert scene.ask("anonymous", "GET", path).status_code == 429


def test_guessing_tokens_is_limited(scene):
    headers = {"Authorization": "Token guess"}
    statuses = [scene.ask("anonymous", "GET", "devices/", headers=headers).status_code for _ in range(4)]
    assert statuses == [401, 401, 401, 429]


def test_clients_are_told_apart_by_network_and_no_address_is_stored(scene):
    def ask(address):
        return left(scene.ask("anonymous", "GET", "bands/", REMOTE_ADDR=address))

    assert ask("192.0.2.1") == 2
    assert ask("192.0.2.2") == 2
    assert ask("2001:db8:0:1::1") == 2
    assert ask("2001:db8:0:1:ffff::2") == 1  # the same /64
    assert ask("2001:db8:0:2::1") == 2
    keys = list(UseCount.objects.values_list("key", flat=True))
    assert keys and not any("192.0" in key or "2001" in key for key in keys)
