"""Kit over the API: unknown builds, hand-overs, loans, tables, steps with undo, labels."""

from __future__ import annotations

import pytest

from measurements.models import Device, DueMark
from measurements.services.accounts import membership
from tests.api.scene import PLANTED


def register(scene, who="owner", **given):
    return scene.ask(who, "POST", "devices/", json={"design": None, "tag": "K-1", **given})


def test_a_device_of_unknown_build_is_registered_and_gets_its_design_later(scene):
    reply = register(scene, kind="choke", ratio="1:1", make="bought")
    shown = reply.json()
    assert reply.status_code == 201 and shown["design"] is None
    assert (shown["kind"], shown["ratio"], shown["make"], shown["owner"]) == (
        "choke",
        "1:1",
        "bought",
        scene.viewers["owner"].name,
    )
    changed = scene.ask(
        "owner",
        "PATCH",
        f"devices/{shown['id']}/",
        json={"design": scene.rare},
        headers={"If-Match": reply["ETag"]},
    )
    assert changed.json()["design"] == scene.rare
    assert scene.ask("owner", "GET", f"devices/{shown['id']}/service/").status_code == 200


def test_the_group_owns_what_a_keeper_registers(scene):
    assert register(scene, of_group=True).json()["code"] == "account.keepers_only"
    reply = register(scene, "steward", of_group=True)
    assert reply.json()["owner"] == "the group" and reply.json()["of_group"] is True
    key = reply.json()["id"]
    assert scene.ask("owner", "GET", f"devices/{key}/").status_code == 404
    membership.set_kit_keeper(by=scene.viewers["steward"], name=scene.viewers["owner"].name, keeps_kit=True)
    assert scene.ask("owner", "GET", f"devices/{key}/").status_code == 200
    assert scene.ask("owner", "GET", f"devices/{key}/loans/").status_code == 200


def test_handing_over_takes_the_receivers_yes(scene):
    assert (
        scene.ask(
            "owner", "POST", f"devices/{scene.device}/offers/", json={"name": scene.viewers["stranger"].name}
        ).status_code
        == 204
    )
    (offer,) = scene.ask("stranger", "GET", "offers/").json()["results"]
    assert offer["device"] == scene.device and offer["owner"] == scene.viewers["owner"].name
    assert scene.ask("operator", "POST", f"offers/{offer['id']}/", json={"yes": True}).status_code == 404
    assert scene.ask("stranger", "POST", f"offers/{offer['id']}/", json={"yes": True}).status_code == 204
    assert (
        scene.ask("stranger", "GET", f"devices/{scene.device}/").json()["owner"]
        == scene.viewers["stranger"].name
    )
    assert scene.ask("owner", "GET", f"devices/{scene.device}/").status_code == 404


def test_lending_and_returning(scene):
    path = f"devices/{scene.device}"
    lent = scene.ask("owner", "POST", f"{path}/loans/", json={"borrower": "Gwenna", "lent_on": "2026-05-14"})
    assert (lent.status_code, lent.json()["borrower"]) == (201, "Gwenna")
    assert scene.ask("owner", "GET", f"{path}/").json()["lent_to"] == "Gwenna"
    early = scene.ask("owner", "POST", f"{path}/return/", json={"returned_on": "2026-05-13"})
    assert early.json()["code"] == "loan.returned_on"
    assert scene.ask("owner", "POST", f"{path}/return/", json={}).json()["lent_to"] == ""


def test_a_table_is_shown_then_written_then_undone(scene):
    table = {"table": "tag,place\nK-1,Shed\nK-2,Shed\n"}
    shown = scene.ask("owner", "POST", "kit/", json=table).json()
    assert [row["changes"]["place"] for row in shown["rows"]] == [["", "Shed"]] * 2 and shown[
        "change"
    ] is None
    before = Device.objects.count()
    done = scene.ask("owner", "POST", "kit/", json={**table, "fingerprint": shown["fingerprint"]}).json()
    assert Device.objects.count() == before + 2
    undone = scene.ask("owner", "POST", f"kit/changes/{done['change']}/undo/").json()
    assert undone == {"undone": 2, "kept": []} and Device.objects.count() == before


def test_the_list_as_csv_comes_back_without_a_difference(scene):
    register(scene, place="=Shed")
    text = scene.ask("owner", "GET", "devices/?format=csv").content.decode()
    shown = scene.ask("owner", "POST", "kit/", json={"table": text}).json()
    assert shown["rows"] == [] and shown["same"] == 3


def test_faults_of_a_table_name_line_and_column(scene):
    reply = scene.ask("owner", "POST", "kit/", json={"table": "tag,built_on\nK-1,x\n"})
    assert reply.status_code == 400
    assert [(e["line"], e["field"]) for e in reply.json()["errors"]] == [(2, "built_on")]


def test_many_devices_in_one_step(scene):
    given = {"devices": [scene.device], "due_event": "other", "due_reason": "storm"}
    done = scene.ask("owner", "POST", "kit/changes/", json=given).json()
    assert done["devices"] == 1
    assert DueMark.objects.filter(device__key=scene.device, reason="storm").count() == 1
    assert scene.ask("owner", "POST", f"kit/changes/{done['change']}/undo/").json()["undone"] == 1


def test_labels_and_blank_codes(scene):
    reply = scene.ask("owner", "POST", "labels/", json={"devices": [scene.device], "paper": "tape62"})
    assert reply.status_code == 200 and reply.content.startswith(b"%PDF")
    (code,) = scene.ask("owner", "POST", "labels/blank/", json={"count": 1}).json()["codes"]
    bound = scene.ask("owner", "POST", f"labels/{code}/", json={"device": scene.device})
    assert bound.json()["id"] == scene.device
    again = scene.ask("owner", "POST", f"labels/{code}/", json={"device": scene.device})
    assert again.json()["code"] == "label.taken"


@pytest.mark.parametrize("who", ["stranger", "operator"])
def test_nobody_else_reads_make_place_or_borrower(scene, who):
    reply = register(scene, make=PLANTED, place=PLANTED, notes=PLANTED)
    scene.ask("owner", "POST", f"devices/{reply.json()['id']}/loans/", json={"borrower": PLANTED})
    for path in ("devices/", "tests/", "offers/", f"devices/{reply.json()['id']}/", "evidence/", "designs/"):
        assert PLANTED.encode() not in scene.ask(who, "GET", path).content
