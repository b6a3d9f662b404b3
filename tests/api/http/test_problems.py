"""Every error has one shape (RFC 9457), the right status, and tells nothing of the inside."""

from __future__ import annotations

import math

import pytest
from django.db import OperationalError
from django.test import Client

from measurements.selectors.designs import designs
from measurements.selectors.reference import reference
from measurements.selectors.releases import releases
from tests.api import reply_validation
from tests.api.scene import BASE

SECRET = "inside-9041"  # stands for whatever an exception's text may hold

# role, method, path, options, status, code
REFUSED = [
    ("anonymous", "GET", "nowhere/", {}, 404, "request.not_found"),
    ("anonymous", "GET", "bands", {}, 404, "request.not_found"),
    ("anonymous", "GET", "designs/%00/", {}, 404, "request.not_found"),
    ("anonymous", "GET", "designs/zzzzzzzzzzzz/", {}, 404, "design.not_found"),
    ("anonymous", "GET", "designs/zzzzzzzzzzzz/evidence/", {}, 404, "design.not_found"),
    ("anonymous", "GET", "designs/zzzzzzzzzzzz/curves/", {}, 404, "design.not_found"),
    ("anonymous", "GET", "designs/zzzzzzzzzzzz/chart/", {}, 404, "design.not_found"),
    ("anonymous", "GET", "evidence/?design=zzzzzzzzzzzz", {}, 404, "design.not_found"),
    ("stranger", "GET", "evidence/?design=zzzzzzzzzzzz", {}, 404, "design.not_found"),
    ("anonymous", "GET", "releases/0/", {}, 404, "release.not_found"),
    ("anonymous", "GET", "releases/999999999/", {}, 404, "release.not_found"),
    ("anonymous", "GET", "releases/99999999999999999999/", {}, 404, "request.not_found"),
    ("owner", "GET", "devices/zzzzzzzzzzzz/", {}, 404, "device.not_found"),
    ("owner", "GET", "tests/zzzzzzzzzzzz/", {}, 404, "test.not_found"),
    ("owner", "DELETE", "tests/zzzzzzzzzzzz/", {}, 404, "test.not_found"),
    ("anonymous", "PUT", "designs/", {}, 405, "request.method"),
    ("anonymous", "TRACE", "designs/", {}, 405, "request.method"),
    ("anonymous", "GET", "analyse/", {}, 405, "request.method"),
    ("anonymous", "GET", "bands/", {"headers": {"Accept": "image/png"}}, 406, "request.not_acceptable"),
    ("anonymous", "GET", "bands/", {"headers": {"Accept": ";;;"}}, 406, "request.not_acceptable"),
    ("anonymous", "GET", "bands/?format=xml", {}, 400, "query.format"),
    ("anonymous", "GET", "bands/?format=", {}, 400, "query.format"),
    ("anonymous", "GET", "bands/?format=csv&format=json", {}, 400, "field.repeated"),
    ("anonymous", "GET", "bands/?colour=red", {}, 400, "request.invalid"),
    ("anonymous", "GET", "bands/?region=4", {}, 400, "request.invalid"),
    ("anonymous", "GET", "bands/?region=1&region=2", {}, 400, "request.invalid"),
    ("anonymous", "GET", "bands/?on=yesterday", {}, 400, "request.invalid"),
    ("anonymous", "GET", "designs/?benchmark_db=nan", {}, 400, "request.invalid"),
    ("anonymous", "GET", "designs/?benchmark_db=inf", {}, 400, "request.invalid"),
    ("anonymous", "GET", "designs/?benchmark_db=9", {}, 400, "request.invalid"),
    ("anonymous", "GET", "designs/?benchmark_db=20.1", {}, 400, "benchmark.step"),
    ("anonymous", "GET", "designs/?band=11m", {}, 400, "band.unknown"),
    ("anonymous", "GET", "designs/?ratio=many", {}, 400, "ratio.unreadable"),
    ("anonymous", "GET", "designs/?ratio=%00", {}, 400, "request.invalid"),
    ("anonymous", "GET", "designs/?order=luck", {}, 400, "request.invalid"),
    ("anonymous", "GET", "designs/?limit=201", {}, 400, "request.invalid"),
    ("anonymous", "GET", "designs/?limit=0", {}, 400, "request.invalid"),
    ("anonymous", "GET", "designs/?cursor=abc", {}, 400, "cursor.invalid"),
    ("anonymous", "GET", "releases/?cursor=%ff", {}, 400, "cursor.invalid"),
    ("owner", "POST", "designs/?limit=3", {"json": {}}, 400, "request.invalid"),
    ("owner", "POST", "designs/?format=json", {"json": {}}, 400, "request.invalid"),
    ("owner", "POST", "designs/", {"json": []}, 400, "request.unreadable"),
    ("owner", "POST", "designs/", {"json": {"purpose": "lamp"}}, 400, "recipe.invalid"),
    ("owner", "POST", "devices/", {"json": {"tag": 7, "serial": "1"}}, 400, "request.invalid"),
    ("owner", "POST", "devices/", {"json": {"design": "zz", "tag": "x"}}, 400, "device.unknown_design"),
    ("owner", "POST", "devices/", {"json": 5}, 400, "request.invalid"),
    ("anonymous", "GET", "bands/?" + "x=1&" * 300, {}, 413, "request.too_large"),
    ("anonymous", "POST", "designs/", {"json": {}}, 401, "sign_in.required"),
    ("anonymous", "GET", "devices/", {}, 401, "sign_in.required"),
    ("anonymous", "GET", "", {"headers": {"Authorization": "Token"}}, 401, "sign_in.bad_token"),
    ("anonymous", "GET", "", {"headers": {"Authorization": "Token a b"}}, 401, "sign_in.bad_token"),
    ("anonymous", "GET", "", {"headers": {"Authorization": "Token wrong"}}, 401, "sign_in.bad_token"),
    ("anonymous", "GET", "", {"headers": {"Authorization": "Token \xff\xfe"}}, 401, "sign_in.bad_token"),
    ("anonymous", "GET", "", {"headers": {"Authorization": "Token " + "a" * 9000}}, 401, "sign_in.bad_token"),
]


@pytest.mark.parametrize(
    ("role", "method", "path", "options", "status", "code"), REFUSED, ids=lambda value: str(value)[:40]
)
def test_a_refusal_has_the_one_shape(scene, role, method, path, options, status, code):
    response = scene.ask(role, method, path, **dict(options))
    assert (response.status_code, reply_validation.problem(response)["code"]) == (status, code)


BODIES = [
    ("application/json", b"{", 400, "request.unreadable"),
    ("application/json", b"\xff\xfe{}", 400, "request.unreadable"),
    ("application/json", b'{"a": NaN}', 400, "request.unreadable"),
    ("application/json", b'{"a": -Infinity}', 400, "request.unreadable"),
    ("application/json", b'{"a": 1, "a": 2}', 400, "request.unreadable"),
    ("application/json", b"[" * 60_000, 400, "request.unreadable"),
    ("application/json", b'{"a": ' + b"9" * 5_000 + b"}", 400, "request.unreadable"),
    ("application/json; charset=hex", b"7b7d", 415, "request.unsupported_media_type"),
    ("application/json; charset=utf-16", b"{}", 415, "request.unsupported_media_type"),
    ("text/plain", b"{}", 415, "request.unsupported_media_type"),
    ("application/x-www-form-urlencoded", b"tag=1", 415, "request.unsupported_media_type"),
    ("x" * 300, b"{}", 415, "request.unsupported_media_type"),
    ("application/json", b'{"a": "' + b"x" * 3_000_000 + b'"}', 413, "request.too_large"),
]


@pytest.mark.parametrize(("media_type", "body", "status", "code"), BODIES, ids=range(len(BODIES)))
@pytest.mark.parametrize("path", ["designs/", "devices/"])
def test_a_body_that_cannot_be_used(scene, path, media_type, body, status, code):
    response = scene.ask("owner", "POST", path, data=body, content_type=media_type)
    assert (response.status_code, reply_validation.problem(response)["code"]) == (status, code)


def test_an_empty_body_is_asked_for_its_fields(scene):
    problem = reply_validation.problem(
        scene.ask("owner", "POST", "devices/", data=b"", content_type="application/json")
    )
    assert {error["field"]: error["code"] for error in problem["errors"]} == {
        "design": "field.required",
        "tag": "field.required",
    }


def test_errors_name_every_field_at_fault(scene):
    sent = {"design": scene.popular, "tag": "x" * 65, "origin": "found", "built_on": "1.1.2020"}
    problem = reply_validation.problem(scene.ask("owner", "POST", "devices/", json=sent))
    assert sorted(error["field"] for error in problem["errors"]) == ["built_on", "origin", "tag"]


def test_nested_faults_are_dotted_paths(
    scene,
):
    sent = {
        "purpose": "choke",
        "ratio": "1:1",
        "cores": [{"shape": "toroid", "mix": "31"}],
        "winding": {"turns": 0},
    }
    problem = reply_validation.problem(scene.ask("owner", "POST", "designs/", json=sent))
    fields = [error["field"] for error in problem["errors"]]
    assert "winding.turns" in fields and any(field.startswith("cores.0") for field in fields)


class TestWhatNobodyForesaw:
    def test_it_is_logged_and_tells_nothing(self, scene, monkeypatch, caplog):
        def fails(*_arguments, **_named):
            raise KeyError(SECRET)

        monkeypatch.setattr(reference, "list_cores", fails)
        response = scene.ask("anonymous", "GET", "cores/")
        assert reply_validation.problem(response)["code"] == "server.failed"
        assert response.status_code == 500 and SECRET not in response.content.decode()
        assert SECRET in caplog.text

    def test_a_busy_database_asks_to_try_again(self, scene, monkeypatch):
        def fails(*_arguments, **_named):
            raise OperationalError(SECRET)

        monkeypatch.setattr(reference, "list_mixes", fails)
        response = scene.ask("anonymous", "GET", "mixes/")
        assert response.status_code == 503 and SECRET not in response.content.decode()


class TestWhatJsonCannotHold:
    """A NaN or an infinite value never leaves, in no form of the reply."""

    @pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
    @pytest.mark.parametrize("form", ["json", "csv", "ndjson"])
    def test_in_a_list(self, scene, monkeypatch, value, form):
        from dataclasses import replace

        rows = tuple(replace(row, start_hz=value) for row in reference.list_bands())
        monkeypatch.setattr(reference, "list_bands", lambda *_: rows)
        response = scene.ask("anonymous", "GET", f"bands/?format={form}")
        assert response.status_code == 500 and reply_validation.problem(response)["code"] == "server.failed"

    def test_in_an_object(self, scene, monkeypatch):
        from dataclasses import replace

        row = replace(releases.get_release(scene.release), counts={"devices": math.nan})
        monkeypatch.setattr(releases, "get_release", lambda _number: row)
        assert scene.ask("anonymous", "GET", f"releases/{scene.release}/").status_code == 500

    def test_deep_inside(self, scene, monkeypatch):
        from dataclasses import replace

        row = designs.get_design(scene.viewers["owner"], scene.popular)
        spoilt = replace(row, evidence=({**row.evidence[0], "share": math.nan},))
        monkeypatch.setattr(designs, "get_design", lambda *_arguments, **_named: spoilt)
        assert scene.ask("owner", "GET", f"designs/{scene.popular}/").status_code == 500


def test_a_host_that_is_not_ours_is_refused_before_anything_else(scene):
    assert Client().get(BASE, headers={"Host": "elsewhere.example"}).status_code == 400
