"""Moves of tests and answers to an intake's questions over the API, as the pages have them."""

from __future__ import annotations

from measurements.models import Device, Test
from measurements.services.intakes import intakes, manifests
from measurements.services.uploads.uploads import Upload
from tests import club, factories


def post(scene, who, address, **given):
    return scene.ask(who, "POST", address, json=given)


def test_a_test_moves_among_own_devices_and_back(scene):
    other = factories.device(scene.viewers["owner"], scene.popular, tag="right one")
    made = post(scene, "owner", f"tests/{scene.test}/move/", device=other)
    assert made.status_code == 201
    assert Test.objects.get(key=scene.test).device.key == other
    assert post(scene, "stranger", f"moves/{made.json()['move']}/undo/").status_code == 404
    back = post(scene, "owner", f"moves/{made.json()['move']}/undo/")
    assert back.json() == {"night": None} and Test.objects.get(key=scene.test).device.key == scene.device
    assert post(scene, "owner", f"moves/{made.json()['move']}/undo/").json()["code"] == "move.undone"


def test_to_the_device_of_another_it_does_not_move(scene):
    foreign = factories.device(scene.viewers["stranger"], scene.popular, tag="theirs")
    refused = post(scene, "owner", f"tests/{scene.test}/move/", device=foreign)
    assert refused.status_code == 404 and Test.objects.get(key=scene.test).device.key == scene.device


def test_what_a_guest_brought_moves_to_the_right_guest(scene):
    by = scene.viewers["operator"]
    giver, receiver = (club.guest(by, scene.night, name) for name in ("Wrong", "Right"))
    device = club.guests_device(by, scene.night, giver)
    made = post(scene, "operator", f"nights/{scene.night}/moves/", giver=giver, receiver=receiver)
    assert made.status_code == 201
    assert Device.objects.get(key=device).contributor.guest_name == "Right"
    assert post(scene, "operator", f"moves/{made.json()['move']}/undo/").json() == {"night": scene.night}
    assert Device.objects.get(key=device).contributor.guest_name == "Wrong"


def test_a_question_of_an_intake_is_answered(scene):
    """A tag close to a known one is a question; a yes sets the tag that it proposes."""
    by = scene.viewers["operator"]
    giver = club.guest(by, scene.night, "Gwen")
    device = club.guests_device(by, scene.night, giver, tag="NB-01")
    line = {"file": "a.s2p", "tag": "NB-0l", "kind": "common_mode", "contributor": "Gwen"}
    key = intakes.begin_intake(
        by=by,
        night=scene.night,
        files=[Upload("a.s2p", factories.choke_s2p(points=41))],
        manifest=manifests.format_manifest([{**line, "design": scene.popular}]),
    ).key
    intakes.work_on_intake(intake=key)
    (file,) = scene.ask("operator", "GET", f"intakes/{key}/").json()["files"]
    assert file["question"]["code"] == "question.close_tag"
    group = file["question"]["group"]
    assert post(scene, "stranger", f"intakes/{key}/answers/", group=group, answer="yes").status_code == 403
    said = post(scene, "operator", f"intakes/{key}/answers/", group=group, answer="yes")
    assert said.status_code == 200 and said.json()["total"] == 1
    intakes.work_on_intake(intake=key)
    (file,) = scene.ask("operator", "GET", f"intakes/{key}/").json()["files"]
    assert file["question"] is None and Test.objects.get(key=file["test"]).device.key == device
    again = post(scene, "operator", f"intakes/{key}/answers/", group=group, answer="yes")
    assert again.json()["code"] == "intake.no_question"
    wrong = post(scene, "operator", f"intakes/{key}/answers/", group=group, answer="maybe")
    assert wrong.status_code == 400
