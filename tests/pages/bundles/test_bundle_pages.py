"""Bundles on pages: seen before anything changes, decided by a person, taken along after a fresh proof."""

from __future__ import annotations

import io
import zipfile
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from measurements.models import BundleImport, Device, Test
from measurements.services.bundles import bags, exports, processing, signing
from measurements.services.devices import devices
from measurements.services.operations import tidying
from tests import factories
from tests.pages.conftest import signed_in
from tests.services.bundles import two_servers

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _keys(settings, tmp_path, reference_data):
    settings.BENCHNIGHT_VAR = tmp_path / "home"


@pytest.fixture
def operator():
    return factories.member("Olga", "operator")


@pytest.fixture
def conflict(settings, tmp_path):
    """A device that went to the field and was edited on both sides: its key, and the bundle that is back."""
    me = factories.member("ann")
    key = factories.device(me, tag="A-1")
    factories.record(me, key)
    out, home_key = two_servers.export(exports.select_all()), signing.get_public_key()
    with two_servers.other_server(settings, tmp_path / "field"):
        two_servers.trust(home_key)
        two_servers.take(out)
        Device.objects.filter(key=key).update(place="<b>Hut</b>", notes="Wet")
        back, field_key = two_servers.export(exports.select_all()), signing.get_public_key()
    two_servers.trust(field_key)
    devices.update_device(by=me, device=key, version=1, place="Shed")
    return key, back


def bring(client, bundle: bytes) -> str:
    """Send a bundle and work on it; the address of its page."""
    reply = client.post("/bundles/", {"bundle": SimpleUploadedFile("b.zip", bundle)})
    assert reply.status_code == 302, reply.content.decode()
    work(reply["Location"])
    return reply["Location"]


def work(address: str) -> None:
    processing.process_import(address.strip("/").rsplit("/", 1)[1])


def read(client, address: str, status: int = 200) -> str:
    reply = client.get(address)
    assert reply.status_code == status
    return reply.content.decode()


def test_a_night_is_seen_first_and_then_applied(operator, settings, tmp_path):
    with two_servers.other_server(settings, tmp_path / "field"):
        night, _devices, recorded = two_servers.hold_night(people=2, devices_each=1)
        bundle, key = two_servers.export(exports.select_night(night, by=None)), signing.get_public_key()
    two_servers.trust(key)
    client = signed_in(operator)
    page = bring(client, bundle)
    told = read(client, page)
    assert "What this bundle would change" in told and "Nothing has changed yet." in told
    assert f"new: test {recorded[0]}" in told and not Test.objects.exists()
    applied = client.post(page)
    assert applied.status_code == 302 and applied["Location"] != page
    work(applied["Location"])
    assert set(Test.objects.values_list("key", flat=True)) == set(recorded)
    assert "This bundle is here" in read(client, applied["Location"])
    # it was applied once; the page of the preview offers it no more
    assert "send it again" in read(client, page) and client.post(page).status_code == 422
    listed = read(client, "/bundles/")
    assert "applied" in listed and "shown, not applied" in listed


@pytest.mark.parametrize(("choice", "place"), [("theirs", "<b>Hut</b>"), ("ours", "Shed"), ("later", "Shed")])
def test_a_person_decides_with_both_values_in_sight(operator, conflict, choice, place):
    key, bundle = conflict
    client = signed_in(operator)
    page = bring(client, bundle)
    told = read(client, page)
    assert "Edited on both sides" in told and "<td>Shed</td><td>&lt;b&gt;Hut&lt;/b&gt;</td>" in told
    assert Device.objects.get(key=key).place == "Shed" and Device.objects.get(key=key).notes != "Wet"
    applied = client.post(page, {f"decide-{key}": choice, "decide-222222222222": "theirs"})
    work(applied["Location"])
    found = Device.objects.get(key=key)
    assert (found.place, found.notes) == (place, "Wet")
    made = BundleImport.objects.order_by("-pk").first()
    assert made.decisions == {"ours": [key] * (choice == "ours"), "theirs": [key] * (choice == "theirs")}
    assert ("Left to decide" in read(client, applied["Location"])) == (choice == "later")


def test_a_bundle_of_nobody_trusted_is_refused_with_a_sentence(operator, settings, tmp_path):
    with two_servers.other_server(settings, tmp_path / "field"):
        two_servers.hold_night(people=1)
        bundle = two_servers.export(exports.select_all())
    client = signed_in(operator)
    for sent in (bundle, b"no zip"):
        reply = client.post("/bundles/", {"bundle": SimpleUploadedFile("b.zip", sent)})
        assert reply.status_code == 422 and 'role="alert"' in reply.content.decode()
    assert client.post("/bundles/").status_code == 422
    assert not BundleImport.objects.exists()


class TestWhoMay:
    def test_operators_and_stewards_bring_bundles(self, operator):
        for viewer, status in (
            (factories.member("ann"), 403),
            (operator, 200),
            (factories.member("head", "steward"), 200),
        ):
            client = signed_in(viewer)
            assert client.get("/bundles/").status_code == status
            sent = {"bundle": SimpleUploadedFile("b.zip", b"x")}
            assert client.post("/bundles/", sent).status_code == (422 if status == 200 else 403)

    def test_another_operator_neither_sees_nor_applies_it(self, operator, conflict):
        page = bring(signed_in(operator), conflict[1])
        other = signed_in(factories.member("Otto", "operator"))
        assert other.get(page).status_code == 404 and other.post(page).status_code == 404
        steward = signed_in(factories.member("head", "steward"))
        assert "Apply it" not in read(steward, page) and steward.post(page).status_code == 404
        assert BundleImport.objects.count() == 1

    def test_applying_and_taking_along_ask_for_a_fresh_proof(self, operator, conflict):
        page = bring(signed_in(operator), conflict[1])
        old = signed_in(operator, by_link=False)
        assert old.post(page).status_code == 403 and BundleImport.objects.count() == 1
        steward = signed_in(factories.member("head", "steward"), by_link=False)
        for address in ("/bundles/group/", "/account/bundle/"):
            assert steward.post(address).status_code == 403

    def test_the_bytes_of_a_preview_go_after_a_day(self, operator, conflict):
        page = bring(signed_in(operator), conflict[1])
        assert tidying.delete_expired_rows().shown_bundles == 0
        BundleImport.objects.update(finished_at=timezone.now() - timedelta(hours=25))
        assert tidying.delete_expired_rows().shown_bundles == 1
        assert signed_in(operator).post(page).status_code == 422

    def test_a_second_bundle_takes_the_place_of_the_first(self, operator, conflict):
        client = signed_in(operator)
        first = bring(client, conflict[1])
        bring(client, conflict[1])
        assert client.post(first).status_code == 422


class TestTakenAlong:
    def devices_of(self, reply) -> set[str]:
        assert reply.status_code == 200 and reply["Content-Disposition"].startswith("attachment")
        data = b"".join(reply.streaming_content)
        assert zipfile.ZipFile(io.BytesIO(data)).testzip() is None
        two_servers.trust(signing.get_public_key())
        with bags.open_bag(io.BytesIO(data)) as bag:
            rows = bag.read("data/rows/devices.jsonl").decode().splitlines()
        return {
            key for key in Device.objects.values_list("key", flat=True) if any(key in row for row in rows)
        }

    def test_a_night_by_its_operators(self, operator):
        night, brought, _tests = two_servers.hold_night(people=2, devices_each=1)
        factories.device(factories.member("ann"), tag="elsewhere")
        address = reverse("pages:night_bundle", kwargs={"key": night})
        assert self.devices_of(signed_in(factories.member("bench-op", "operator")).post(address)) == set(
            brought
        )
        assert signed_in(factories.member("ann")).post(address).status_code == 403
        assert signed_in(operator).post(address).status_code == 404

    def test_the_group_by_a_steward_alone(self, operator):
        key = factories.device(factories.member("ann"), tag="A-1")
        assert self.devices_of(signed_in(factories.member("head", "steward")).post("/bundles/group/")) == {
            key
        }
        assert signed_in(operator).post("/bundles/group/").status_code == 403

    def test_own_devices_by_their_owner(self, operator):
        mine = factories.device(factories.member("ann"), tag="A-1")
        factories.device(operator, tag="O-1")
        assert self.devices_of(signed_in(factories.member("ann")).post("/account/bundle/")) == {mine}
