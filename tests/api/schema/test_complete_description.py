"""The description is complete: what the usual lint rules for OpenAPI ask for, checked by rules of our own.

OpenAPI 3.1.0: 4.8.30 (security requirements name declared schemes), 4.8.22 (tags), 4.8.4 (licence),
4.8.5 (servers). That every field is described is a rule of this house.
"""

from __future__ import annotations

import re

import pytest

from api.schema.description import UNIT_WORDS, UNITS, find_unit
from tests.api import reply_validation

DOCUMENT = reply_validation.document()
COMPONENTS = DOCUMENT["components"]
OPERATIONS = [operation for item in DOCUMENT["paths"].values() for operation in item.values()]


def test_every_security_name_is_declared_and_used():
    used = {name for each in OPERATIONS for way in each["security"] for name in way}
    assert used == set(COMPONENTS["securitySchemes"]) == {"bearer", "access_token", "session"}
    assert COMPONENTS["securitySchemes"]["bearer"]["scheme"] == "bearer"


@pytest.mark.parametrize("operation", OPERATIONS, ids=[each["operationId"] for each in OPERATIONS])
def test_both_spellings_of_a_token_open_the_same(operation):
    names = [name for way in operation["security"] for name in way]
    assert {"bearer", "access_token"} <= set(names)
    assert re.fullmatch(r"[a-z][a-z_]*", operation["operationId"])


def test_tags_are_declared_described_and_used():
    declared = {tag["name"]: tag["description"] for tag in DOCUMENT["tags"]}
    assert all(declared.values())
    assert set(declared) == {tag for operation in OPERATIONS for tag in operation["tags"]}


def test_the_licence_of_the_data_is_told_apart():
    assert "software" in DOCUMENT["info"]["license"]["name"]
    terms = DOCUMENT["info"]["x-data-terms"]
    assert "LICENCE.txt" in terms["url"] and "software" in terms["description"]
    assert DOCUMENT["servers"] == [{"url": "/", "description": "This server"}]


def test_every_field_has_a_sentence():
    bare = [
        f"{component}.{name}"
        for component, schema in COMPONENTS["schemas"].items()
        for name, field in schema.get("properties", {}).items()
        if "$ref" not in field and len(field.get("description", "")) < 6
    ]
    assert bare == []


def test_every_parameter_has_a_sentence():
    bare = [
        f"{operation['operationId']}: {parameter['name']}"
        for operation in OPERATIONS
        for parameter in operation.get("parameters", [])
        if len(parameter.get("description", "")) < 6
    ]
    assert bare == []


def test_every_sentence_of_a_physical_field_names_the_unit():
    bare = [
        f"{component}.{name}"
        for component, schema in COMPONENTS["schemas"].items()
        for name, field in schema.get("properties", {}).items()
        if (unit := find_unit(name)) and "description" in field
        if not field["description"].endswith(f"In {UNIT_WORDS.get(unit, unit)}.") or field["x-unit"] != unit
    ]
    assert bare == [] and len(UNITS) > 10


def test_every_reference_leads_somewhere():
    for reference in set(re.findall(r"'(#/components/[^']+)'", repr(DOCUMENT))):
        kind, name = reference.removeprefix("#/components/").split("/")
        assert name in COMPONENTS[kind], reference


def test_no_component_is_left_over():
    text = repr(DOCUMENT)
    unused = [
        f"{kind}/{name}"
        for kind in ("schemas", "headers", "responses")
        for name in COMPONENTS[kind]
        if f"'#/components/{kind}/{name}'" not in text
    ]
    assert unused == []
