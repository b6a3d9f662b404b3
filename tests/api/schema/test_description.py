"""openapi.yaml: committed as generated, valid, complete, and with examples that are true to it."""

from __future__ import annotations

import json

import pytest
import yaml
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.renderers import OpenApiYamlRenderer
from jsonschema import Draft202012Validator
from openapi_spec_validator import OpenAPIV31SpecValidator

from api.schema import description
from tests.api import reply_validation

OPERATIONS = [
    (path, method, operation)
    for path, item in reply_validation.document()["paths"].items()
    for method, operation in item.items()
]
IDS = [operation["operationId"] for _, _, operation in OPERATIONS]
EXEMPT = {
    "description",
    "docs",
    "test_sweep",
    "withdraw_test",
    "picture",
    "delete_picture",
    "watch_design",
    "stop_watching_design",
    "forget_analyser",
    "forget_checks",
    "pool_file",
    "pool_latest",
    "release_file",
    "night_bundle",
    "release_feed",
    "release_waiting_tests",
    "end_check_standard",
    "latest_release",
    "latest_release_file",
    "offer_device",
    "keep_device",
    "answer_offer",
    "join_contributors",
    "labels",
}  # no JSON of ours in the reply: no body, bytes, or the description itself


def test_the_committed_file_is_what_the_views_say():
    """Where this fails: manage.py spectacular --fail-on-warn --validate --file api/openapi.yaml"""
    GENERATOR_STATS.reset()
    made = SchemaGenerator().get_schema(request=None, public=True)
    assert not GENERATOR_STATS, "the generator warned"
    assert OpenApiYamlRenderer().render(made, renderer_context={}).decode() == reply_validation.text()


def test_it_is_valid_openapi_3_1():
    assert reply_validation.document()["openapi"].startswith("3.1")
    assert list(OpenAPIV31SpecValidator(reply_validation.document()).iter_errors()) == []


def test_operations_have_names_of_their_own():
    assert len(set(IDS)) == len(IDS)


@pytest.mark.parametrize(("path", "method", "operation"), OPERATIONS, ids=IDS)
class TestOperation:
    def test_is_described(self, path, method, operation):
        assert operation["summary"] and len(operation["description"]) > 20 and operation["tags"]
        assert path.endswith("/")
        for parameter in operation.get("parameters", []):
            assert parameter["schema"]

    def test_documents_its_errors(self, path, method, operation):
        statuses = set(operation["responses"])
        assert {"400", "401", "406", "429", "500", "503"} <= statuses
        assert ("{" not in path) or "404" in statuses
        assert ("requestBody" not in operation) or {"413", "415"} <= statuses

    def test_has_an_example_that_fits(self, path, method, operation):
        if operation["operationId"] in EXEMPT:
            return
        shown = [
            (content["schema"], example["value"])
            for status, response in operation["responses"].items()
            if status.startswith("2")
            for content in response.get("content", {}).values()
            for example in content.get("examples", {}).values()
        ]
        sent = [
            (content["schema"], example["value"])
            for content in operation.get("requestBody", {}).get("content", {}).values()
            for example in content.get("examples", {}).values()
        ]
        assert shown, "no example of a reply"
        for schema, value in shown + sent:
            check(schema, value)


def test_the_example_of_a_problem_fits():
    problem = reply_validation.document()["components"]["schemas"]["Problem"]
    check(problem, problem["examples"][0])


def test_every_object_says_what_it_is():
    said = {}
    for name, schema in reply_validation.document()["components"]["schemas"].items():
        if schema.get("type") == "object" and not schema["description"].startswith("Rows of a list"):
            said.setdefault(schema["description"], set()).add(
                name.removeprefix("Patched").removesuffix("Request")
            )
    assert {text: names for text, names in said.items() if len(names) > 1} == {}


def test_fields_with_a_unit_name_it():
    schemas = reply_validation.document()["components"]["schemas"]
    assert schemas["Band"]["properties"]["start_hz"]["x-unit"] == "Hz"
    assert schemas["EvidenceRecord"]["properties"]["benchmark_db"]["x-unit"] == "dB"
    assert "x-unit" not in schemas["Band"]["properties"]["band"]


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        ("resistivity_ohm_cm", "ohm cm"),
        ("load_ohm", "ohm"),
        ("al_nh", "nH"),
        ("inductance_h", "H"),
        ("month", None),
    ],
)
def test_the_longest_suffix_is_the_unit(name, unit):
    assert description.find_unit(name) == unit


class TestServed:
    def test_as_yaml_and_as_json(self, scene):
        as_yaml = scene.ask("anonymous", "GET", "schema/")
        as_json = scene.ask("anonymous", "GET", "schema/?format=json")
        assert as_yaml.content.decode() == reply_validation.text()
        assert json.loads(as_json.content) == yaml.safe_load(reply_validation.text())

    @pytest.mark.parametrize("media_type", ["application/json", "application/vnd.oai.openapi+json"])
    def test_by_accept(self, scene, media_type):
        reply = scene.ask("anonymous", "GET", "schema/", headers={"Accept": media_type})
        assert reply["Content-Type"] == media_type and reply.json()["openapi"] == "3.1.0"

    def test_the_docs_page_has_nothing_inline(self, scene):
        page = scene.ask("anonymous", "GET", "docs/").content.decode()
        assert "<style" not in page and " style=" not in page and " onload=" not in page
        for script in page.split("<script")[1:]:
            assert script.startswith(' defer src="/static/') and script.split(">", 1)[1].startswith(
                "</script>"
            )
        assert "://" not in page


def check(schema: dict, value: object) -> None:
    """`value` against a schema of the document, its references resolved there."""
    whole = {**schema, "components": reply_validation.document()["components"]}
    errors = [
        f"{list(error.path)}: {error.message}" for error in Draft202012Validator(whole).iter_errors(value)
    ]
    assert errors == []
