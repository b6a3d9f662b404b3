"""The index, the description, and whatever is at no address."""

from __future__ import annotations

import pytest

from measurements.rf.analysis import ENGINE_VERSION


def test_the_index_leads_to_addresses_that_answer(scene):
    index = scene.ask("anonymous", "GET", "").json()
    assert index["engine_version"] == ENGINE_VERSION
    assert index["release"] == scene.release
    opened = {"analyse": 405, "predict": 400, "identify": 405}  # these compute; one also answers GET
    for name, address in index["addresses"].items():
        path = address.removeprefix("http://testserver")
        status = scene.ask_unchecked("operator", "GET", path).status_code
        assert status == opened.get(name, 200), address


@pytest.mark.parametrize(
    ("path", "hint"),
    [
        ("/api/v1", "Every address ends in a slash: /api/v1/"),
        ("/api/v1/designs", "Every address ends in a slash: /api/v1/designs/"),
        ("/api/v1/releases/1", "Every address ends in a slash: /api/v1/releases/1/"),
        ("/api/v1/design/", "Did you mean /api/v1/designs/?"),
        ("/api/v1/Designs/", "Did you mean /api/v1/designs/?"),
        ("/api/v1/desings/abc/evidence/", "Did you mean /api/v1/designs/abc/evidence/?"),
        ("/api/v1/xyzzy/", "/api/v1/ lists what there is"),
        ("/api/v1/designs/abc/no/such/", "/api/v1/ lists what there is"),
        ("/api/v2/designs/", "/api/v1/ lists what there is"),
        ("/api", "/api/v1/ lists what there is"),
        ("/api/", "/api/v1/ lists what there is"),
    ],
)
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_missing_address_hints_at_the_right_one(scene, path, hint, method):
    reply = scene.ask("owner", method, path)
    assert (reply.status_code, reply.json()["code"]) == (404, "request.not_found")
    assert hint in reply.json()["detail"]


def test_the_index_lists_every_list(scene):
    addresses = scene.ask("anonymous", "GET", "").json()["addresses"]
    assert {"designs", "evidence", "nights", "predict", "identify"} <= set(addresses)
