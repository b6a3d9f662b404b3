"""Empty and misspelt words are refused by name, and so is a value of another type in JSON."""

from __future__ import annotations

import pytest

from api import urls

RECIPE = {
    "purpose": "choke",
    "ratio": "1:1",
    "cores": [{"shape": "toroid", "outer_mm": 61, "inner_mm": 35.55, "height_mm": 12.7, "mix": "31"}],
    "winding": {"turns": 9, "style": "coax"},
}
OTHER_TYPES = ({}, [], [1], {"a": 1}, True, 0, -1, 1.5, "no such thing")
WORDS = {
    pattern.name: list(pattern.callback.cls.words().fields)
    for pattern in urls.urlpatterns
    if pattern.name and pattern.callback.cls.words().fields
}
PAIRS = [(name, word) for name, words in WORDS.items() for word in (*words, "format")]


def address_of(scene, name: str) -> str:
    from django.urls import reverse

    known = {"designs": scene.popular, "devices": scene.device, "tests": scene.test}
    for pattern in urls.urlpatterns:
        if pattern.name == name:
            parts = pattern.pattern.converters
            given = {part: known.get(str(pattern.pattern).split("/")[0], scene.popular) for part in parts}
            given |= {"role": "sweep"} if "role" in parts else {}
            return reverse(f"api:{name}", kwargs=given)
    raise AssertionError(name)


@pytest.mark.parametrize("value", ["", "%20"], ids=["empty", "blank"])
@pytest.mark.parametrize(("name", "word"), PAIRS)
def test_a_word_without_a_value_is_refused_by_name(scene, name, word, value):
    """`evidence/?design=$UNSET` must not answer with everything."""
    reply = scene.ask("owner", "GET", f"{address_of(scene, name)}?{word}={value}")
    assert reply.status_code == 400, reply.content[:200]
    assert reply.json()["errors"][0]["field"] == word


@pytest.mark.parametrize("name", WORDS)
def test_a_misspelt_word_is_refused_by_name(scene, name):
    reply = scene.ask("owner", "GET", f"{address_of(scene, name)}?desing=x")
    assert reply.status_code == 400 and reply.json()["errors"][0]["field"] == "desing"


@pytest.mark.parametrize("role", ["anonymous", "owner"])
@pytest.mark.parametrize("words", ["design=no-such-design", "band=40m&band="])
def test_a_word_that_names_nothing_is_no_empty_list(scene, role, words):
    path = "evidence/" if "design" in words else "designs/"
    assert scene.ask(role, "GET", f"{path}?{words}").status_code in (400, 404)


@pytest.mark.parametrize("value", OTHER_TYPES, ids=repr)
@pytest.mark.parametrize("field", ["purpose", "principle", "cores", "winding", "ratio"])
def test_a_field_of_a_recipe_of_another_type(scene, field, value):
    reply = scene.ask("owner", "POST", "designs/", json={**RECIPE, field: value})
    assert reply.status_code == 400, reply.content[:300]
    assert field in {error["field"].split(".")[0] for error in reply.json()["errors"]}


@pytest.mark.parametrize("value", [{}, [], True, {"a": 1}], ids=repr)
@pytest.mark.parametrize("field", ["part", "shape", "mix", "stacked", "outer_mm", "inner_mm", "height_mm"])
def test_a_field_of_a_core_of_another_type(scene, field, value):
    core = {**RECIPE["cores"][0], field: value}
    reply = scene.ask("owner", "POST", "designs/", json={**RECIPE, "cores": [core]})
    assert reply.status_code == 400, reply.content[:300]


@pytest.mark.parametrize("value", [{}, [], "yes", 1, 0, "true"], ids=repr)
@pytest.mark.parametrize("field", ["turns", "style", "split", "conductor"])
def test_a_field_of_a_winding_of_another_type(scene, field, value):
    if field == "turns" and value == 1:
        return  # one turn is a winding
    reply = scene.ask(
        "owner", "POST", "designs/", json={**RECIPE, "winding": {**RECIPE["winding"], field: value}}
    )
    assert reply.status_code == 400, reply.content[:300]


@pytest.mark.parametrize(
    ("path", "body", "field"),
    [
        ("devices/", {"design": "{design}", "tag": {}}, "tag"),
        ("devices/", {"design": "{design}", "tag": 7}, "tag"),
        ("devices/", {"design": "{design}", "tag": "x", "built_on": {}}, "built_on"),
        ("devices/", {"design": "{design}", "tag": "x", "built_on": 20260101}, "built_on"),
        ("devices/", {"design": "{design}", "tag": "x", "origin": {}}, "origin"),
        ("devices/", {"design": "{design}", "tag": "x", "same_person": "yes"}, "same_person"),
        ("devices/{device}/inspections/", {"inspected_on": [], "findings": {}}, "inspected_on"),
        ("devices/{device}/inspections/", {"inspected_on": "2026-03-01", "findings": []}, "findings"),
        (
            "devices/{device}/inspections/",
            {"inspected_on": "2026-03-01", "findings": {}, "dc_ohm": "1"},
            "dc_ohm",
        ),
        ("predict/", {"recipe": []}, "recipe"),
        ("predict/", {"recipe": RECIPE, "bands": "40m"}, "bands"),
        ("predict/", {"recipe": RECIPE, "bands": [40]}, "bands"),
        ("predict/", {"recipe": RECIPE, "benchmark_db": "20"}, "benchmark_db"),
        ("predict/", {"recipe": {**RECIPE, "principle": {}}}, "recipe.principle"),
    ],
)
def test_other_bodies(scene, path, body, field):
    text = {key: scene.popular if value == "{design}" else value for key, value in body.items()}
    reply = scene.ask("owner", "POST", path.format(device=scene.device), json=text)
    assert reply.status_code == 400, reply.content[:300]
    assert reply.json()["errors"][0]["field"].startswith(field)


@pytest.mark.parametrize("body", [[], "text", 7, None, [[]]], ids=repr)
@pytest.mark.parametrize("path", ["designs/", "devices/", "predict/"])
def test_a_body_that_is_no_object(scene, path, body):
    assert scene.ask("owner", "POST", path, json=body).status_code == 400


def test_at_most_twenty_errors(scene):
    cores = [{"part": {}, "stacked": []} for _ in range(24)]
    reply = scene.ask("owner", "POST", "designs/", json={**RECIPE, "cores": cores})
    assert reply.status_code == 400 and len(reply.json()["errors"]) == 20


def test_words_have_texts_alone(scene):
    """In an address a number is text: what is strict in JSON is not so there."""
    assert scene.ask("owner", "GET", "designs/?benchmark_db=20&turns_min=2&limit=5").status_code == 200


def test_an_address_that_is_too_long_is_a_problem(scene):
    reply = scene.ask("anonymous", "GET", f"designs/?q={'x' * 4000}")
    assert (reply.status_code, reply.json()["code"]) == (414, "request.address_too_long")


def test_a_recipe_of_the_right_types_is_taken(scene):
    assert scene.ask("owner", "POST", "designs/", json=RECIPE).status_code in (200, 201)
    with_number = {**RECIPE, "cores": [{**RECIPE["cores"][0], "mix": 31}]}
    assert scene.ask("owner", "POST", "designs/", json=with_number).status_code == 200
