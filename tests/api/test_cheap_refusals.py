"""What is cheap to send is cheap to refuse: few errors, short ones, and nothing read that cannot be meant.

Amplification, the reply measured against the request, is the measure of OWASP API Security Top 10 2023,
API4 (Unrestricted Resource Consumption). Work is counted in errors and bytes, not in seconds.
"""

from __future__ import annotations

import json

import pytest

from measurements import errors
from measurements.errors import BenchnightError, ErrorCollector
from tests.api import reply_validation

MOST_ERRORS = 20  # of a reply
MOST_REPLY_BYTES = 32 * 1024
KIBIBYTE = 1024
RECIPE = {
    "purpose": "choke",
    "ratio": "1:1",
    "cores": [{"shape": "toroid", "outer_mm": 61, "inner_mm": 35.55, "height_mm": 12.7, "mix": "31"}],
    "winding": {"turns": 11, "style": "coax"},
}


def many(count: int, length: int = 6) -> dict[str, int]:
    return {f"k{number:0{length}d}": 1 for number in range(count)}


FLOODS = {
    "keys of a prediction": ("anonymous", "predict/", many(140_000)),
    "keys of its recipe": ("anonymous", "predict/", {"recipe": many(140_000)}),
    "keys of its winding": ("anonymous", "predict/", {"recipe": {**RECIPE, "winding": many(140_000)}}),
    "keys of a core": ("anonymous", "predict/", {"recipe": {**RECIPE, "cores": [many(140_000)]}}),
    "keys of 24 cores": ("anonymous", "predict/", {"recipe": {**RECIPE, "cores": [many(5_000)] * 24}}),
    "cores": ("anonymous", "predict/", {"recipe": {**RECIPE, "cores": [{}] * 150_000}}),
    "bands": ("anonymous", "predict/", {"recipe": RECIPE, "bands": [1] * 150_000}),
    "bands that are texts": ("anonymous", "predict/", {"recipe": RECIPE, "bands": ["x"] * 150_000}),
    "a long name": ("anonymous", "predict/", {"n" * 1_000_000: 1}),
    "a long name in a recipe": ("anonymous", "predict/", {"recipe": {"n" * 1_000_000: 1}}),
    "a long name in a core": ("anonymous", "predict/", {"recipe": {**RECIPE, "cores": [{"n" * 10**6: 1}]}}),
    "a recipe's keys": ("owner", "designs/", many(140_000)),
    "a recipe's winding": ("owner", "designs/", {**RECIPE, "winding": many(140_000)}),
    "a list": ("anonymous", "predict/", [1] * 150_000),
}


@pytest.mark.parametrize("flood", FLOODS)
def test_a_flood_is_refused_in_few_words(scene, flood):
    role, path, body = FLOODS[flood]
    reply = scene.ask(role, "POST", path, json=body)
    assert reply.status_code == 400, reply.content[:300]
    problem = reply_validation.problem(reply)
    assert 1 <= len(problem["errors"]) <= MOST_ERRORS
    assert len(reply.content) <= MOST_REPLY_BYTES


SMALL = {
    "a device": ("owner", "POST", "devices/"),
    "a device's change": ("owner", "PATCH", "devices/{device}/"),
    "an inspection": ("owner", "POST", "devices/{device}/inspections/"),
    "a night": ("operator", "POST", "nights/"),
    "a night's change": ("operator", "PATCH", "nights/{night}/"),
}


@pytest.mark.parametrize("address", SMALL)
def test_where_nothing_large_is_meant_64_kibibytes_are_taken(scene, address, settings):
    role, method, path = SMALL[address]
    path = path.format(device=scene.device, night=scene.night)
    current = scene.ask(role, "GET", path)["ETag"] if method == "PATCH" else '"1"'
    whole = json.dumps({"unknown": ""})

    def send(size):
        body = json.dumps({"unknown": "x" * (size - len(whole))})
        assert len(body) == size
        options = {"data": body, "content_type": "application/json", "headers": {"If-Match": current}}
        return scene.ask(role, method, path, **options)

    assert send(64 * KIBIBYTE).status_code == 400
    refused = send(64 * KIBIBYTE + 1)
    assert refused.status_code == 413
    assert "64 KiB" in reply_validation.problem(refused)["detail"]


@pytest.mark.parametrize("path", ["predict/", "designs/"])
def test_a_recipe_may_be_larger(scene, path):
    reply = scene.ask("owner", "POST", path, json={"unknown": "x" * 100_000})
    assert reply.status_code == 400
    large = scene.ask("owner", "POST", path, json={"unknown": "x" * (2 * 1024 * 1024)})
    assert large.status_code == 413 and "2 MiB" in reply_validation.problem(large)["detail"]


def test_the_rest_is_counted_not_listed(scene):
    problem = reply_validation.problem(scene.ask("owner", "POST", "designs/", json=many(24)))
    assert len(problem["errors"]) == MOST_ERRORS
    assert "The first 20 of 29 faults are listed." in problem["detail"]  # with five fields that are missing


@pytest.mark.parametrize("names", [20, 21, 150])
def test_fields_of_a_form_and_words_of_a_query(scene, names):
    """Django itself takes up to 200 of them."""
    form = scene.ask("anonymous", "POST", "analyse/", form={"kind": "balance", **many(names)})
    words = scene.ask("anonymous", "GET", "bands/?" + "&".join(f"{name}=1" for name in many(names)))
    for reply in (form, words):
        assert reply.status_code == 400
        assert 1 <= len(reply_validation.problem(reply)["errors"]) <= MOST_ERRORS


def test_a_collector_keeps_few_and_counts_all():
    faults = ErrorCollector("x.many", "Several.")
    for number in range(1000):
        faults.add(f"f{number}", "x.one", "One.")
    with pytest.raises(BenchnightError) as caught:
        faults.raise_any()
    assert len(caught.value.errors) == errors.MOST_ERRORS == MOST_ERRORS
    assert caught.value.detail == "Several. The first 20 of 1000 faults are listed."


def test_collectors_within_collectors_count_once():
    inner = ErrorCollector("x.inner", "Inner.")
    for number in range(30):
        inner.add(f"f{number}", "x.one", "One.")
    outer = ErrorCollector("x.outer", "Outer.")
    outer.add("g", "x.one", "One.")
    with pytest.raises(BenchnightError) as caught:
        inner.raise_any()
    outer.take(caught.value)
    with pytest.raises(BenchnightError) as again:
        outer.raise_any()
    assert again.value.detail == "Outer. The first 20 of 31 faults are listed."
