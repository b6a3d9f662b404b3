"""Idempotency-Key: a POST that is sent again is done once."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import DatabaseError
from django.utils import timezone

from api.http import idempotency
from api.models import KeptReply
from measurements.models import Device, Test
from measurements.services.devices import devices
from tests import factories

KEY = "8e03978e-40d5-43dd-bc93-6894a57f9324"


def register(scene, key: str = KEY, role: str = "owner", tag: str = "keyed", **fields):
    sent = {"design": scene.popular, "tag": tag, **fields}
    return scene.ask(role, "POST", "devices/", json=sent, headers={"Idempotency-Key": key})


def record(scene, key: str = KEY, seed: int = 5):
    form = {
        "device": scene.device,
        "measured_on": "2026-03-20",
        "kind": "common_mode",
        "sweep": factories.choke_s2p(2500, seed=seed),
    }
    return scene.ask("owner", "POST", "tests/", form=form, headers={"Idempotency-Key": key})


class TestRepeating:
    def test_gets_the_first_reply_and_stores_once(self, scene):
        first, again = register(scene), register(scene)
        assert first.status_code == again.status_code == 201  # without the key: 409, the tag is taken
        assert first.json() == again.json()
        assert first["Location"] == again["Location"] and first["ETag"] == again["ETag"]
        assert Device.objects.filter(tag="keyed").count() == 1

    def test_quoted_or_not_is_the_same_key(self, scene):
        assert register(scene, f'"{KEY}"').json() == register(scene, KEY).json()

    def test_a_form_with_files_whatever_its_boundary(self, scene, monkeypatch):
        first = record(scene)
        monkeypatch.setattr("tests.api.scene.BOUNDARY", "another")
        monkeypatch.setattr("tests.api.scene.MULTIPART_CONTENT", "multipart/form-data; boundary=another")
        again = record(scene)
        assert first.status_code == again.status_code == 201  # without the key: 200, it is there already
        assert first.json() == again.json()

    def test_beside_the_content_itself(self, scene):
        assert [record(scene, key).status_code for key in ("a", "b", "a", "b")] == [201, 200, 201, 200]
        assert Test.objects.filter(device__key=scene.device).count() == 2  # one is of the scene

    def test_a_withdrawn_test_does_not_come_back_with_it(self, scene):
        made = record(scene).json()["id"]
        scene.ask("owner", "DELETE", f"tests/{made}/")
        assert record(scene).status_code == 404
        assert not KeptReply.objects.exclude(body="").exists()

    def test_each_account_and_each_address_has_its_own(self, scene):
        assert register(scene).status_code == 201
        assert register(scene, role="stranger").status_code == 201
        assert record(scene).status_code == 201

    def test_after_a_day_it_is_forgotten(self, scene):
        register(scene)
        KeptReply.objects.update(begun_at=timezone.now() - timedelta(hours=24, seconds=1))
        assert register(scene).status_code == 409  # done again, and so the tag is taken

    def test_what_leads_nowhere_is_kept_as_it_was_said(self, scene, monkeypatch):
        from rest_framework.response import Response

        from api.resources.devices import DevicesView

        said = []

        def post(self, request):
            said.append(1)
            return Response({"n": len(said)}, status=200)

        monkeypatch.setattr(DevicesView, "post", post)
        sent = {"json": {}, "headers": {"Idempotency-Key": KEY}}
        replies = [scene.ask_unchecked("owner", "POST", "devices/", **sent) for _ in range(2)]
        assert [reply.json() for reply in replies] == [{"n": 1}, {"n": 1}]


class TestRefusing:
    def test_another_content_under_the_same_key(self, scene):
        register(scene)
        reply = register(scene, tag="other")
        assert (reply.status_code, reply.json()["code"]) == (422, "idempotency.key_reused")
        assert not Device.objects.filter(tag="other").exists()

    def test_another_file_under_the_same_key(self, scene):
        assert [record(scene, seed=seed).status_code for seed in (5, 6)] == [201, 422]

    def test_while_the_first_is_at_work(self, scene, monkeypatch):
        seen = []

        def slow(**named):
            if not seen:
                seen.append(register(scene))
            return registered(**named)

        registered = devices.register_device
        monkeypatch.setattr(devices, "register_device", slow)
        assert register(scene).status_code == 201
        assert (seen[0].status_code, seen[0].json()["code"]) == (409, "idempotency.in_progress")
        assert int(seen[0]["Retry-After"]) >= 1

    @pytest.mark.parametrize("key", ["", " ", "a b", '"', '"a', "x" * 256, "ä", 'a"b'])
    def test_what_is_no_key(self, scene, key):
        reply = register(scene, key)
        assert (reply.status_code, reply.json()["code"]) == (400, "idempotency.key")
        assert not Device.objects.filter(tag="keyed").exists()

    def test_a_refusal_frees_the_key(self, scene):
        assert register(scene, colour="red").status_code == 400
        assert register(scene).status_code == 201

    def test_what_was_refused_or_repeated_is_no_upload(self, scene, settings):
        settings.BENCHNIGHT_UPLOADS_PER_HOUR = 1
        headers = {"Idempotency-Key": KEY}
        statuses = [
            scene.ask("owner", "POST", "tests/", form={"device": scene.device}, headers=headers).status_code
            for _ in range(2)
        ]
        assert statuses == [400, 400]
        assert [record(scene, key).status_code for key in (KEY, KEY, "b")] == [201, 201, 200]
        new = record(scene, "c", seed=6)
        assert (new.status_code, new.json()["code"]) == (429, "limit.uploads")
        assert Test.objects.filter(device__key=scene.device).count() == 2  # one is of the scene


class TestCrashing:
    def test_a_failure_leaves_neither_the_thing_nor_the_key(self, scene, monkeypatch):
        real = idempotency._kept_of

        def failing(response):
            raise DatabaseError("the disk is full")

        monkeypatch.setattr(idempotency, "_kept_of", failing)
        assert register(scene).status_code == 500
        assert not Device.objects.filter(tag="keyed").exists() and not KeptReply.objects.exists()
        monkeypatch.setattr(idempotency, "_kept_of", real)
        assert register(scene).status_code == 201

    def test_one_that_was_killed_is_taken_over_after_a_while(self, scene):
        register(scene)
        Device.objects.filter(tag="keyed").delete()  # as if it had never been done
        KeptReply.objects.update(status=None, location="")
        assert register(scene).status_code == 409
        KeptReply.objects.update(begun_at=timezone.now() - idempotency.ABANDONED_AFTER - timedelta(seconds=1))
        assert register(scene, tag="keyed").status_code == 201
        assert register(scene).status_code == 201 and Device.objects.filter(tag="keyed").count() == 1

    def test_who_was_overtaken_undoes_its_work(self, scene, monkeypatch):
        registered = devices.register_device

        def overtaken(**named):
            KeptReply.objects.update(begun_at=timezone.now())
            return registered(**named)

        monkeypatch.setattr(devices, "register_device", overtaken)
        assert register(scene).status_code == 409
        assert not Device.objects.filter(tag="keyed").exists()


class TestWhere:
    def test_what_stores_nothing_keeps_nothing(self, scene):
        form = {"kind": "common_mode", "sweep": factories.choke_s2p()}
        for role in ("anonymous", "owner"):
            headers = {"Idempotency-Key": KEY}
            assert scene.ask(role, "POST", "analyse/", form=form, headers=headers).status_code == 200
        assert not KeptReply.objects.exists()

    def test_it_goes_with_its_account(self, scene):
        member = KeptReply._meta.get_field("member")
        assert member.remote_field.on_delete.__name__ == "CASCADE"
