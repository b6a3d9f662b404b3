"""Within /api/v1/ the description only grows: today's against the one that was promised."""

from __future__ import annotations

import copy
from pathlib import Path

import pytest
import yaml

from tests.api import reply_validation
from tests.api.schema import schema_growth

PROMISED = Path(reply_validation.FILE).with_name("openapi-1.0.yaml")


@pytest.fixture(scope="module")
def promised() -> dict:
    return yaml.safe_load(PROMISED.read_text(encoding="utf-8"))


def test_nothing_that_was_promised_is_broken(promised):
    """Where this fails: keep what is there and add beside it; see api/CHANGES.md."""
    assert schema_growth.broken(promised, reply_validation.document()) == []


def test_growing_breaks_nothing(promised):
    more = copy.deepcopy(promised)
    more["paths"]["/api/v1/new/"] = {}
    more["paths"]["/api/v1/designs/"]["get"]["parameters"].append(
        {"in": "query", "name": "shade", "schema": {"type": "string"}}
    )
    schemas = more["components"]["schemas"]
    schemas["Design"]["properties"]["shade"] = {"type": "string"}
    schemas["Design"]["required"].append("shade")
    schemas["DeviceRegistrationRequest"]["properties"]["shade"] = {"type": "string"}
    assert schema_growth.broken(promised, more) == []


def gone(what: str, *path: str):
    def change(document):
        place = document
        for part in path:
            place = place[part]
        del place[what]

    return change


def put(value, *path: str):
    def change(document):
        place = document
        for part in path[:-1]:
            place = place[part]
        place[path[-1]] = value

    return change


SCHEMAS = ("components", "schemas")
DESIGNS = ("paths", "/api/v1/designs/", "get")
REQUIRED_WORD = {"in": "query", "name": "why", "required": True, "schema": {"type": "string"}}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (gone("/api/v1/bands/", "paths"), "/api/v1/bands/ is gone"),
        (gone("post", "paths", "/api/v1/designs/"), "POST /api/v1/designs/ is gone"),
        (put("find", *DESIGNS, "operationId"), "operationId designs became find"),
        (put([], *DESIGNS, "parameters"), "parameter band is gone"),
        (put([REQUIRED_WORD], *DESIGNS, "parameters"), "parameter why became required"),
        (gone("text/csv", *DESIGNS, "responses", "200", "content"), "text/csv is gone"),
        (gone("304", *DESIGNS, "responses"), "status 304 is gone"),
        (gone("Link", *DESIGNS, "responses", "200", "headers"), "headers ['Link'] are gone"),
        (put([], *DESIGNS, "security"), "a way to sign in is gone"),
        (gone("title", *SCHEMAS, "Design", "properties"), "field title is gone"),
        (put(["id"], *SCHEMAS, "Design", "required"), "may be missing now"),
        (put({"type": "integer"}, *SCHEMAS, "Design", "properties", "title"), "became ['integer']"),
        (put("mHz", *SCHEMAS, "Band", "properties", "start_hz", "x-unit"), "the unit Hz became mHz"),
        (
            put(["design", "tag", "origin"], *SCHEMAS, "DeviceRegistrationRequest", "required"),
            "['origin'] became required",
        ),
        (
            put(["homebrew"], *SCHEMAS, "DeviceRegistrationRequest", "properties", "origin", "enum"),
            "['commercial'] are gone",
        ),
        (
            put({"type": "integer"}, *SCHEMAS, "DeviceRegistrationRequest", "properties", "tag"),
            "takes ['string'] no more",
        ),
    ],
)
def test_each_way_to_break_a_promise_is_found(promised, change, said):
    changed = copy.deepcopy(promised)
    change(changed)
    assert any(said in fault for fault in schema_growth.broken(promised, changed))
