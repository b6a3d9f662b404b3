"""Bundles over the API: a night leaves as one file and comes back; who may, and what a worker does once."""

from __future__ import annotations

import io
import zipfile
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from measurements.models import BundleImport, Night, Test
from measurements.services.bundles import processing
from tests.services.bundles import two_servers


@pytest.fixture
def night(scene, settings, tmp_path) -> str:
    settings.BENCHNIGHT_VAR = tmp_path
    return two_servers.hold_night(people=2, devices_each=1)[0]


def get_bundle(scene, night: str, who: str = "steward") -> bytes:
    reply = scene.ask(who, "GET", f"nights/{night}/bundle/")
    assert reply.status_code == 200
    return bytes(reply.content)


def send(scene, bundle: bytes, who: str = "operator", **form: str):
    return scene.ask(who, "POST", "bundles/", form={"bundle": SimpleUploadedFile("b.zip", bundle), **form})


def test_a_night_leaves_and_comes_back(scene, night):
    bundle = get_bundle(scene, night)
    assert zipfile.ZipFile(io.BytesIO(bundle)).testzip() is None
    tests = set(Test.objects.filter(night__key=night).values_list("key", flat=True))
    Test.objects.filter(key__in=tests).delete()
    reply = send(scene, bundle)
    assert reply.status_code == 202 and reply.json()["state"] in ("queued", "done")
    key = reply.json()["id"]
    assert reply["Location"].endswith(f"/bundles/{key}/")
    processing.process_import(key)
    shown = scene.ask("operator", "GET", f"bundles/{key}/").json()
    assert (shown["state"], shown["applied"], shown["new"], shown["conflicts"]) == ("done", True, 4, 0)
    assert set(Test.objects.filter(night__key=night).values_list("key", flat=True)) == tests
    assert BundleImport.objects.get(key=key).raw == b""


def test_only_shown(scene, night):
    bundle = get_bundle(scene, night)
    Test.objects.filter(night__key=night).delete()
    key = send(scene, bundle, apply="false").json()["id"]
    processing.process_import(key)
    shown = scene.ask("operator", "GET", f"bundles/{key}/").json()
    assert not shown["applied"] and shown["new"] > 0 and any("new: test" in line for line in shown["lines"])
    assert not Test.objects.filter(night__key=night).exists()


@pytest.mark.parametrize(
    ("form", "code"),
    [
        ({}, "field.required"),
        ({"bundle": b"no zip"}, "bundle.broken"),
        ({"bundle": b"x", "apply": "maybe"}, "field.choice"),
        ({"archive": b"x"}, "field.unknown"),
    ],
)
def test_what_is_refused(scene, form, code):
    files = {
        name: SimpleUploadedFile("b.zip", value) if isinstance(value, bytes) else value
        for name, value in form.items()
    }
    reply = scene.ask("operator", "POST", "bundles/", form=files)
    assert reply.status_code == 400 and reply.json()["code"] == code
    assert not BundleImport.objects.exists()


def test_an_import_is_who_sent_its(scene, night):
    key = send(scene, get_bundle(scene, night), who="steward").json()["id"]
    assert scene.ask("operator", "GET", f"bundles/{key}/").status_code == 404
    assert scene.ask("steward", "GET", f"bundles/{key}/").status_code == 200


class TestWorkers:
    @pytest.fixture
    def waiting(self, scene, night):
        bundle = get_bundle(scene, night)
        Test.objects.filter(night__key=night).delete()
        by = scene.viewers["operator"]
        return processing.begin_import(by=by, data=bundle, apply=True)

    def test_a_worker_that_died_is_followed_by_another(self, waiting):
        BundleImport.objects.update(state="running", worker="dead", alive_until=timezone.now())
        BundleImport.objects.update(alive_until=timezone.now() - timedelta(seconds=1))
        assert processing.resume_stale_imports(here=True) == 1
        assert BundleImport.objects.get().state == "done" and not processing.has_unfinished_imports()

    def test_one_that_is_alive_keeps_it(self, waiting):
        alive = timezone.now() + timedelta(seconds=60)
        BundleImport.objects.update(state="running", worker="alive", alive_until=alive)
        assert processing.resume_stale_imports(here=True) == 0
        processing.process_import(waiting)
        assert BundleImport.objects.get().worker == "alive"

    def test_one_that_was_taken_over_stores_nothing(self, waiting, monkeypatch):
        finish = processing._finish

        def lose(row, worker, **what):
            BundleImport.objects.update(worker="another")
            finish(row, worker, **what)

        monkeypatch.setattr(processing, "_finish", lose)
        processing.process_import(waiting)
        night = Night.objects.get(title="Field day")
        assert not Test.objects.filter(night=night).exists()
