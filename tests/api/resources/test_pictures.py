"""Pictures, claims and the stewards' queue over the API: the same rules as on their pages."""

from __future__ import annotations

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from measurements.models import Device, DevicePhoto, Test
from measurements.services.nights import guests
from tests import club, photo_samples


def add(scene, data: bytes, role: str = "owner", **form: str):
    sent = {"picture": SimpleUploadedFile("a.jpg", data), **form}
    return scene.ask(role, "POST", f"devices/{scene.device}/pictures/", form=sent)


class TestPictures:
    def test_one_is_added_listed_read_and_deleted(self, scene):
        made = add(scene, photo_samples.with_everything(), caption="The braid")
        assert made.status_code == 201 and made.json()["caption"] == "The braid"
        key = made.json()["id"]
        assert made["Location"].endswith(f"/pictures/{key}/")
        listed = scene.ask("owner", "GET", f"devices/{scene.device}/pictures/").json()["results"]
        assert [row["id"] for row in listed] == [key]
        for size in ("full", "small"):
            reply = scene.ask("owner", "GET", f"pictures/{key}/?size={size}")
            assert reply["Content-Type"] == "image/jpeg" and reply["Cache-Control"].startswith("private")
            assert photo_samples.CANARY.encode() not in reply.content
            assert Image.open(io.BytesIO(reply.content)).size[0] > 0
        assert scene.ask("owner", "DELETE", f"pictures/{key}/").status_code == 204
        assert scene.ask("owner", "GET", f"pictures/{key}/").status_code == 404

    def test_the_same_file_again_is_the_first(self, scene):
        first, again = (add(scene, photo_samples.picture()) for _ in range(2))
        assert (first.status_code, again.status_code) == (201, 200)
        assert first.json()["id"] == again.json()["id"] and DevicePhoto.objects.count() == 1

    @pytest.mark.parametrize("role", ["stranger", "operator"])
    def test_others_find_nothing(self, scene, role):
        key = add(scene, photo_samples.picture()).json()["id"]
        assert add(scene, photo_samples.picture(), role).status_code == 404
        for method in ("GET", "DELETE"):
            assert scene.ask(role, method, f"pictures/{key}/").status_code == 404
        assert DevicePhoto.objects.count() == 1

    @pytest.mark.parametrize("form", [{}, {"photo": b"x"}, {"picture": b"no picture"}])
    def test_what_is_no_picture(self, scene, form):
        sent = {name: SimpleUploadedFile("a.jpg", data) for name, data in form.items()}
        reply = scene.ask("owner", "POST", f"devices/{scene.device}/pictures/", form=sent)
        assert reply.status_code == 400 and not DevicePhoto.objects.exists()


def test_a_code_makes_a_guests_devices_ones_own(scene):
    operator = club.operator()
    night = club.night(operator)
    guest = club.guest(operator, night)
    device = Device.objects.get(key=club.guests_device(operator, night, guest, scene.popular))
    code = guests.issue_claim_code(by=operator, night=night, contributor_key=guest)
    reply = scene.ask("stranger", "POST", "claims/", json={"code": code})
    assert reply.status_code == 200 and reply.json() == {"devices": 1}
    device.refresh_from_db()
    assert device.contributor.member_id == scene.viewers["stranger"].member_id
    again = scene.ask("owner", "POST", "claims/", json={"code": code})
    assert again.status_code == 404 and again.json()["code"] == "guest.code_unknown"


class TestQueue:
    def test_a_steward_decides_and_the_owner_reads_why(self, scene):
        address = f"reviews/{scene.test}/"
        out = scene.ask(
            "steward", "POST", address, json={"decision": "excluded", "reason": "Another device."}
        )
        assert out.status_code == 200 and out.json()["excluded_reason"] == "Another device."
        listed = scene.ask("steward", "GET", "reviews/?state=excluded").json()["results"]
        assert [row["id"] for row in listed] == [scene.test]
        assert (
            scene.ask("owner", "GET", f"tests/{scene.test}/").json()["excluded_reason"] == "Another device."
        )
        assert scene.ask("steward", "POST", address, json={"decision": "included"}).status_code == 200
        assert Test.objects.get(key=scene.test).excluded_reason == ""

    @pytest.mark.parametrize("body", [{}, {"decision": "gone"}, {"decision": "excluded"}])
    def test_what_is_no_decision(self, scene, body):
        reply = scene.ask("steward", "POST", f"reviews/{scene.test}/", json=body)
        assert reply.status_code == 400 and Test.objects.get(key=scene.test).excluded_at is None
