"""A member's own folder in one request: own devices alone, limits count what is new, nothing is doubled."""

from __future__ import annotations

import io
import zipfile

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from measurements.models import Device, Test
from measurements.services.intakes import own_folders
from tests import factories

ABOUT = {"kind": "common_mode", "calibrated": "true", "measured_on": "2026-03-14"}


@pytest.fixture
def devices(scene) -> list[str]:
    """Keys of two devices of the owner, tagged b-1 and b-2."""
    owner = factories.member("Ada")
    assert Device.objects.get(key=scene.device).contributor.member_id == owner.member_id
    return [factories.device(owner, scene.popular, tag=tag) for tag in ("b-1", "b-2")]


def sweep(name: str, seed: int) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, factories.choke_s2p(2900, seed=seed))


def send(scene, *files: SimpleUploadedFile, role: str = "owner", **form):
    for file in files:
        file.seek(0)
    return scene.ask(role, "POST", "folders/", form={"sweep": list(files), **ABOUT, **form})


def ends(reply) -> list[tuple[str, str]]:
    return [(file["file"], file["state"]) for file in reply.json()["files"]]


def test_each_file_is_a_test_of_the_device_whose_tag_it_bears(scene, devices):
    reply = send(scene, sweep("b-1.s2p", 1), sweep("B-2.s2p", 2), sweep("b-9.s2p", 3))
    assert reply.status_code == 200
    told = reply.json()
    assert ends(reply) == [("b-1.s2p", "stored"), ("B-2.s2p", "stored"), ("b-9.s2p", "refused")]
    assert (told["total"], told["stored"], told["refused"], told["wait_s"]) == (3, 2, 1, None)
    assert "no device" in told["files"][2]["reason"] and told["files"][2]["test"] is None
    for file, device in zip(told["files"], devices, strict=False):
        stored = Test.objects.get(key=file["test"])
        assert (stored.device.key, stored.kind, str(stored.measured_on)) == (
            device,
            "common_mode",
            "2026-03-14",
        )


def test_the_same_folder_again_stores_nothing_twice(scene, devices):
    files = [sweep("b-1.s2p", 1), sweep("b-2.s2p", 2)]
    first, again = send(scene, *files), send(scene, *files)
    assert ends(again) == [("b-1.s2p", "already_there"), ("b-2.s2p", "already_there")]
    assert [file["test"] for file in again.json()["files"]] == [
        file["test"] for file in first.json()["files"]
    ]
    assert Test.objects.filter(device__key__in=devices).count() == 2


def test_only_what_is_new_counts_against_the_hour(scene, devices, settings):
    """Repeats and refused files go through beyond the limit; what is new waits so many seconds."""
    settings.BENCHNIGHT_UPLOADS_PER_HOUR = 2
    old = [sweep("b-1.s2p", 1), sweep("b-2.s2p", 2)]
    broken = SimpleUploadedFile("b-1.s1p", b"no sweep")
    assert ends(send(scene, broken, old[0])) == [("b-1.s1p", "refused"), ("b-1.s2p", "stored")]
    assert ends(send(scene, old[0], broken, old[1]))[1:] == [("b-1.s1p", "refused"), ("b-2.s2p", "stored")]
    for _ in range(3):
        assert {state for _, state in ends(send(scene, *old))} == {"already_there"}
    table = "file,tag,kind\nb-7.s2p,b-7,common_mode\nnew.s2p,b-2,common_mode\n"
    table += "b-1.s2p,b-1,common_mode\nb-2.s2p,b-2,common_mode\n"
    reply = send(scene, SimpleUploadedFile("b-7.s2p", b"no sweep"), sweep("new.s2p", 5), *old, manifest=table)
    states = ["refused", "waiting", "already_there", "already_there"]
    assert [state for _, state in ends(reply)] == states
    told = reply.json()
    assert told["waiting"] == 1 and 0 < told["wait_s"] <= 3600
    assert "limit of 2 uploads an hour" in told["files"][1]["reason"]
    assert Test.objects.filter(device__key__in=devices).count() == 2
    settings.BENCHNIGHT_UPLOADS_PER_HOUR = 60
    assert ends(send(scene, sweep("b-2.s2p", 5))) == [("b-2.s2p", "stored")]


def test_what_there_is_no_time_for_waits_and_is_sent_again_at_once(scene, devices, monkeypatch):
    monkeypatch.setattr(own_folders, "WORK_S", -1.0)
    reply = send(scene, sweep("b-1.s2p", 1))
    assert (ends(reply), reply.json()["wait_s"]) == ([("b-1.s2p", "waiting")], 0)
    assert not Test.objects.filter(device__key__in=devices).exists()


def test_nobody_stores_a_test_of_another_members_device(scene, devices):
    """To a stranger, an operator and a steward a tag of somebody else is no tag, whether or not it exists."""
    for role in ("stranger", "operator", "steward"):
        reply = send(scene, sweep("b-1.s2p", 1), role=role)
        assert ends(reply) == [("b-1.s2p", "refused")], role
        missing = send(scene, sweep("b-0.s2p", 1), role=role).json()["files"][0]["reason"]
        assert missing.replace("b-0", "b-1") == reply.json()["files"][0]["reason"]
    assert not Test.objects.filter(device__key__in=devices).exists()


def test_a_manifest_says_otherwise_for_its_own_files(scene, devices):
    """Two roles of one tag and kind are one test; a file that no line names is refused."""
    table = (
        "file,tag,kind,role,measured_on\n"
        "turned.s2p,b-1,common_mode,sweep_reversed,\nplain.s2p,b-1,common_mode,sweep,2026-03-20\n"
        "gone.s2p,b-2,common_mode,,\n"
    )
    files = [sweep("plain.s2p", 7), sweep("turned.s2p", 8), sweep("stray.s2p", 9)]
    reply = send(scene, *files, manifest=table)
    states = dict(ends(reply))
    assert states == {
        "plain.s2p": "stored",
        "turned.s2p": "stored",
        "stray.s2p": "refused",
        "gone.s2p": "refused",
    }
    (stored,) = Test.objects.filter(device__key=devices[0])
    assert str(stored.measured_on) == "2026-03-20"
    assert {file["test"] for file in reply.json()["files"] if file["test"]} == {stored.key}
    assert set(stored.sweeps.values_list("role", flat=True)) == {"sweep", "sweep_reversed"}


@pytest.mark.parametrize("column", ["contributor", "design"])
def test_a_folder_is_of_own_registered_devices(scene, devices, column):
    table = f"file,tag,kind,{column}\nb-1.s2p,b-1,common_mode,Somebody\n"
    reply = send(scene, sweep("b-1.s2p", 1), manifest=table)
    assert ends(reply) == [("b-1.s2p", "refused")]
    assert "your own registered devices" in reply.json()["files"][0]["reason"]


def test_a_zip(scene, devices):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as made:
        for number, name in enumerate(("b-1.s2p", "b-2.s2p")):
            made.writestr(name, factories.choke_s2p(2900, seed=20 + number))
    form = {"archive": SimpleUploadedFile("sweeps.zip", packed.getvalue()), **ABOUT}
    assert ends(scene.ask("owner", "POST", "folders/", form=form)) == [
        ("b-1.s2p", "stored"),
        ("b-2.s2p", "stored"),
    ]


@pytest.mark.parametrize(
    ("form", "code"),
    [
        ({}, "intake.empty"),
        ({"sweep": [sweep("a.s2p", 1), sweep("A.s2p", 2)]}, "intake.same_name"),
        ({"sweep": [sweep("a.s2p", 1)], "device": "x"}, "field.unknown"),
        ({"sweep": [sweep("a.s2p", 1)], "manifest": "file,nothing\n"}, "manifest.unknown_column"),
        ({"archive": SimpleUploadedFile("a.zip", b"PK no zip")}, "zip.broken"),
    ],
)
def test_a_form_that_is_none(scene, form, code):
    problem = scene.ask("owner", "POST", "folders/", form=form).json()
    assert code in {problem["code"], *(error["code"] for error in problem["errors"])}, problem


@pytest.mark.parametrize("missing", ["kind", "measured_on"])
def test_what_nobody_said(scene, devices, missing):
    form = {name: text for name, text in ABOUT.items() if name != missing}
    reply = scene.ask("owner", "POST", "folders/", form={"sweep": [sweep("b-1.s2p", 1)], **form})
    assert ends(reply) == [("b-1.s2p", "refused")] and reply.json()["files"][0]["reason"]
