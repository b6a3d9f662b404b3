"""Described analysers over the API: made once, named by a test, measured, forgotten."""

from __future__ import annotations

import pytest

from tests import factories
from tests.api.scene import PLANTED, Scene


@pytest.fixture
def made(scene: Scene) -> str:
    reply = scene.ask(
        "owner", "POST", "analysers/", json={"name": "one", "paths": 1, "port2_match_db": 40, "drift_db": 0}
    )
    assert reply.status_code == 201 and reply["Location"].endswith(f"/analysers/{reply.json()['id']}/")
    return reply.json()["id"]


def analyse(scene: Scene, role: str = "owner", **fields):
    sweep = factories.choke_s2p(one_direction=True)
    form = {"kind": "common_mode", "calibrated": "true", "sweep": sweep, **fields}
    return scene.ask(role, "POST", "analyse/", form=form)


def test_a_key_stands_for_the_description(scene, made):
    by_key, by_json, without = (
        analyse(scene, **fields).json()["bands"]
        for fields in (
            {"analyser": made},
            {"analyser": '{"paths": 1, "port2_match_db": 40, "drift_db": 0}'},
            {},
        )
    )
    assert by_key == by_json
    assert by_key[2]["uncertainty"]["rejection_db"] < without[2]["uncertainty"]["rejection_db"]


@pytest.mark.parametrize("role", ["anonymous", "stranger", "operator", "steward"])
def test_a_key_of_somebody_else_looks_like_an_unknown_one(scene, made, role):
    foreign, unknown = analyse(scene, role, analyser=made), analyse(scene, role, analyser="2" * 12)
    assert foreign.status_code == unknown.status_code == 404
    assert foreign.content == unknown.content and foreign.json()["errors"][0]["field"] == "analyser"


def test_a_change_keeps_what_is_not_sent_and_null_takes_a_number_back(scene, made):
    reply = scene.ask("owner", "PATCH", f"analysers/{made}/", json={"drift_db": None, "noise": 0.001})
    assert reply.json()["description"] == {"paths": 1, "port2_match_db": 40, "noise": 0.001}


@pytest.mark.parametrize(
    ("given", "field"),
    [({"name": ""}, "name"), ({"paths": 3}, "paths"), ({"noise": 7}, "noise"), ({"colour": 1}, "colour")],
)
def test_faults_name_their_field(scene, given, field):
    reply = scene.ask("owner", "POST", "analysers/", json={"name": "x", **given})
    assert reply.status_code == 400 and [each["field"] for each in reply.json()["errors"]] == [field]


def test_check_sweeps_measure_and_are_forgotten_again(scene, made):
    through = factories.choke_s2p(5.0, one_direction=True)
    checked = scene.ask("owner", "POST", f"analysers/{made}/checks/", form={"check_through": through}).json()
    assert checked["measured"]["roles"] == ["check_through"]
    assert checked["description"]["port2_match_db"] < 40
    assert scene.ask("owner", "DELETE", f"analysers/{made}/checks/").status_code == 204
    assert scene.ask("owner", "GET", f"analysers/{made}/").json()["description"]["port2_match_db"] == 40


@pytest.mark.parametrize(
    ("form", "code"),
    [
        ({}, "analyser.check_nothing"),
        ({"check_load": b"no sweep"}, None),
        ({"check_load": factories.choke_s2p(), "load_ohm": "50"}, "analyser.check_load"),
        ({"line_end": "loose", "check_line": factories.choke_s2p()}, None),
    ],
)
def test_faulty_check_sweeps_are_refused(scene, made, form, code):
    reply = scene.ask("owner", "POST", f"analysers/{made}/checks/", form=form)
    assert reply.status_code == 400
    assert code in (None, reply.json()["code"])


def test_nothing_of_an_analyser_is_shown_to_others(scene):
    """The scene's owner described one with a planted name."""
    for role in ("anonymous", "stranger", "operator", "steward"):
        for address in ("analysers/", "evidence/", f"analysers/{scene.analyser}/"):
            text = scene.ask(role, "GET", address).content.decode()
            assert PLANTED not in text and scene.analyser not in text.replace(address, "")
