"""What an operator and a curious member try over the API: each try learns and alters nothing of another's.

Before operators needed the label or the owner's yes, every one of these tests failed.
"""

from __future__ import annotations

import json

import pytest

from measurements.models import AuditEntry, Device, Test
from tests import factories
from tests.api.scene import PLANTED


@pytest.fixture
def night(scene) -> str:
    return scene.ask("operator", "POST", "nights/", json={"held_on": "2026-05-14"}).json()["id"]


def register(scene, night: str, name: str, tag: str):
    given = {"night": night, "contributor": name, "tag": tag, "design": scene.popular}
    return scene.ask_unchecked("operator", "POST", "devices/", json=given)


def test_a_name_and_guessed_tags_tell_nothing(scene, night):
    """The owner has the tag PLANTED and not the other one; Nobody has no account."""
    said = {
        (name, tag): register(scene, night, name, tag).status_code
        for name in ("Ada", "Nobody")
        for tag in (PLANTED, "guessed")
    }
    assert set(said.values()) == {201}
    people = scene.ask("operator", "GET", f"nights/{night}/").json()["contributors"]
    assert {(row["is_guest"], row["devices"]) for row in people} == {(True, 2)}
    assert Device.objects.filter(contributor__member__name="Ada", tag="guessed").count() == 0


def test_the_label_lets_an_operator_test_and_do_nothing_else(scene, night):
    secret = {"notes": "kept to myself", "place": "the hut"}
    Device.objects.filter(key=scene.device).update(**secret)
    sent = {"kind": "common_mode", "device": scene.device, "measured_on": "2026-05-14", "night": night}
    made = scene.ask("operator", "POST", "tests/", form={**sent, "sweep": factories.choke_s2p(seed=901)})
    assert made.status_code == 201
    shown = scene.ask("operator", "GET", f"devices/{scene.device}/")
    assert shown.status_code == 200 and shown.json()["tests"] == 1
    assert not [word for word in (*secret.values(), "Ada") if word in shown.content.decode()]
    assert scene.ask("operator", "GET", f"tests/{scene.test}/").status_code == 404
    own = scene.ask("operator", "GET", "devices/").json()["results"]
    assert [row["tag"] for row in own] == ["Check-1"]  # the operator's own load, none of the night's devices
    assert own[0]["id"] != scene.device
    for change in ({"tag": "B-1"}, {"retired_on": "2026-05-14"}, {"notes": ""}):
        headers = {"If-Match": shown["ETag"]}
        path = f"devices/{scene.device}/"
        assert scene.ask("operator", "PATCH", path, json=change, headers=headers).status_code == 404
    assert scene.ask("operator", "DELETE", f"tests/{made.json()['id']}/").status_code == 404
    assert Test.objects.filter(key=made.json()["id"]).exists()


def test_the_same_bytes_of_another_member_answer_like_new_ones(scene):
    held = factories.choke_s2p(3100, seed=77, comment=PLANTED)  # as the owner's stored test
    replies = []
    for tag, data in (("S-1", held), ("S-2", factories.choke_s2p(3100, seed=902, comment=PLANTED))):
        device = scene.ask("stranger", "POST", "devices/", json={"design": scene.popular, "tag": tag}).json()
        sent = {"kind": "common_mode", "device": device["id"], "measured_on": "2026-03-15"}
        reply = scene.ask("stranger", "POST", "tests/", form={**sent, "calibrated": "true", "sweep": data})
        shown = reply.json()
        flags = [flag["code"] for flag in shown["result"]["flags"]]
        replies.append((reply.status_code, flags, shown["evidence"], shown["published"]))
    assert replies[0] == replies[1]
    held_out = Test.objects.filter(shares_bytes=True).values_list("device__tag", flat=True)
    assert list(held_out) == ["S-1"]


def test_the_public_reads_no_count_of_designs_that_it_may_not_see(scene):
    from measurements.models import Release

    newest = Release.objects.get(number=scene.release)
    newest.counts = {**newest.counts, "designs": 17}
    newest.save()
    for path in ("releases/", f"releases/{scene.release}/"):
        shown = scene.ask("anonymous", "GET", path).json()
        row = shown["results"][0] if "results" in shown else shown
        assert row["counts"] == {"designs": 1}
        assert "17" not in json.dumps(row["counts"])


def test_every_unit_that_an_intake_refuses_is_in_the_log(scene, night):
    from measurements.services.intakes import intakes
    from measurements.services.uploads.uploads import Upload

    by = scene.viewers["operator"]
    lines = [f"{n}.s2p,{tag},Ada,common_mode" for n, tag in enumerate((PLANTED, "x", "y"))]
    key = intakes.begin_intake(
        by=by,
        night=night,
        files=[Upload(f"{n}.s2p", b"no sweep") for n in range(3)],
        manifest="\n".join(["file,tag,contributor,kind", *lines]),
    ).key
    intakes.work_on_intake(intake=key)
    reasons = {row["reason"] for row in scene.ask("operator", "GET", f"intakes/{key}/").json()["files"]}
    assert len(reasons) == 1
    assert AuditEntry.objects.filter(action="intake.refuse", subject=key).count() == 3
