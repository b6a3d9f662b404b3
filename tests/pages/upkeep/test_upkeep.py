"""Inspecting, picturing, marking, commissioning: what the pages promise to whoever keeps the kit."""

from __future__ import annotations

import io
from datetime import date, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.utils import timezone
from PIL import Image

from measurements.models import Device, DevicePhoto, DueMark, Inspection
from measurements.selectors.upkeep import service_states
from measurements.services.devices import devices
from tests import factories
from tests.pages import markup
from tests.pages.conftest import Group, signed_in
from tests.photo_samples import CANARY, picture, png_that_claims, with_everything

ANSWERS = {
    "inspected_on": "2026-05-02",
    "terminals": "ok",
    "moisture": "watch",
    "moisture_note": "a few drops",
}


class TestTheDevicePage:
    def test_state_reasons_and_the_next_step_stand_on_top(self, owner: Client, group: Group):
        content = owner.get(f"/devices/{group.device}/").content
        words = markup.words(content)
        state = service_states.get_service_state(group.owner, group.device)
        assert state.reasons[0].message in words and state.next_step.message in words
        assert words.index(state.reasons[0].message) < words.index("History")

    def test_the_history_holds_everything(self, owner: Client, group: Group):
        page = markup.read(owner.get(f"/devices/{group.device}/").content)
        for href in (
            f"/tests/{group.test}/",
            f"/inspections/{group.inspection}/",
            f"/fault-searches/{group.search}/",
            f"/pictures/{group.photo}/",
        ):
            assert [each for each in page.all("a") if each.attrs["href"] == href], href

    def test_a_trend_needs_two_tests(self, owner: Client, group: Group):
        assert "Over time" not in markup.words(owner.get(f"/devices/{group.device}/").content)
        sweep = factories.choke_s2p(2000, seed=5)
        factories.record(group.owner, group.device, sweep, measured_on=timezone.now().date())
        content = owner.get(f"/devices/{group.device}/?band=40m").content
        words = markup.words(content)
        assert "Over time" in words and "Worst rejection of every common-mode test" in words
        drawn = owner.get(f"/devices/{group.device}/trend.json?band=40m").json()
        rows = [layer["data"]["values"] for layer in drawn["layer"]]
        assert {row["db"] for values in rows for row in values if "db" in row} == {
            point.rejection_db for point in _points(group)
        }
        assert owner.get(f"/devices/{group.device}/trend.svg").content.startswith(b"<svg")
        assert owner.get(f"/devices/{group.device}/trend.json?band=1m").status_code == 400

    def test_place_is_asked_for_and_shown(self, owner: Client, group: Group):
        given = {
            "version": "1",
            "tag": "QX",
            "origin": "homebrew",
            "built_on": "",
            "notes": "",
            "retired_on": "",
        }
        answer = owner.post(f"/devices/{group.device}/change/", {**given, "place": "mast two"})
        assert answer.status_code == 302
        assert "mast two" in markup.words(owner.get(f"/devices/{group.device}/").content)
        assert "mast two" in markup.words(owner.get("/devices/?q=mast").content)


def _points(group: Group):
    from measurements.selectors.upkeep import service_states

    return service_states.get_device_trend(group.owner, group.device).by_band["40m"]


class TestInspecting:
    def post(self, client: Client, group: Group, **changes: str):
        return client.post(f"/devices/{group.device}/inspect/", {**ANSWERS, **changes})

    def test_saved_and_shown(self, owner: Client, group: Group):
        answer = self.post(owner, group, dc_ohm="0,12", notes="dry day")
        assert answer.status_code == 302
        row = Inspection.objects.exclude(key=group.inspection).get()
        assert row.dc_ohm == 0.12 and set(row.findings) == {"terminals", "moisture"}
        words = markup.words(owner.get(f"/inspections/{row.key}/").content)
        assert "a few drops" in words and "0.12 ohm" in words and "dry day" in words

    def test_sent_twice_it_is_one(self, owner: Client, group: Group):
        self.post(owner, group)
        answer = owner.post(f"/devices/{group.device}/inspect/", ANSWERS, follow=True)
        assert "stored already" in answer.content.decode() and Inspection.objects.count() == 2

    def test_a_fault_is_said_and_nothing_typed_is_lost(self, owner: Client, group: Group):
        faulty = (
            ({"dc_ohm": "little"}, "Give a number"),
            ({"dc_ohm": "-1"}, "Give the resistance in ohm"),
            ({"inspected_on": "2999-01-01"}, "Give the day of the inspection"),
            ({"terminals": "", "terminals_note": "hm"}, "Say how it looked"),
            ({"terminals": "splendid"}, "Select a valid choice"),
        )
        for changes, said in faulty:
            answer = self.post(owner, group, **changes)
            assert answer.status_code == 422 and said in markup.words(answer.content)
            assert "a few drops" in answer.content.decode()
            page = markup.read(answer.content)
            assert "checked" in page.one("input", name="moisture", value="watch").attrs
        assert Inspection.objects.count() == 1

    def test_nothing_answered(self, owner: Client, group: Group):
        answer = owner.post(f"/devices/{group.device}/inspect/", {"inspected_on": "2026-05-02"})
        assert answer.status_code == 422 and "at least one item" in markup.words(answer.content)

    def test_every_item_has_five_large_answers(self, owner: Client, group: Group):
        page = markup.read(owner.get(f"/devices/{group.device}/inspect/").content)
        radios = [each for each in page.all("input") if each.attrs.get("type") == "radio"]
        assert len(radios) == 11 * 5 and sum("checked" in each.attrs for each in radios) == 11

    def test_good_after_a_fault_takes_what_was_done(self, owner: Client, group: Group):
        factories.look(group.owner, group.device, date(2026, 5, 1), moisture="fault")
        address = f"/devices/{group.device}/inspect/"
        assert "A fault stands here" in markup.words(owner.get(address).content)
        sent = {"inspected_on": "2026-06-01", "moisture": "ok"}
        answer = owner.post(address, sent)
        assert answer.status_code == 422 and "what was done" in markup.words(answer.content)
        assert owner.post(address, {**sent, "moisture_note": "dried"}).status_code == 302

    def test_what_every_device_has_applies(self, owner: Client, group: Group):
        sent = {"inspected_on": "2026-06-01", "terminals": "does_not_apply"}
        answer = owner.post(f"/devices/{group.device}/inspect/", sent)
        assert answer.status_code == 422 and "Every device has this" in markup.words(answer.content)

    def test_deleting_it(self, owner: Client, stranger: Client, group: Group):
        assert stranger.post(f"/inspections/{group.inspection}/").status_code == 404
        assert owner.post(f"/inspections/{group.inspection}/").status_code == 302
        assert not Inspection.objects.exists()


class TestPictures:
    def send(self, client: Client, group: Group, data: bytes, **more: str):
        sent = {"photo": SimpleUploadedFile("IMG_0001.jpg", data), "caption": "inside", **more}
        return client.post(f"/devices/{group.device}/pictures/", sent)

    def test_nothing_of_the_phone_is_served(self, owner: Client, group: Group):
        sent = with_everything(orientation=6)
        assert CANARY.encode() in sent
        assert self.send(owner, group, sent).status_code == 302
        key = DevicePhoto.objects.get(caption="inside").key
        for size in ("full", "small"):
            answer = owner.get(f"/pictures/{key}/{size}.jpg")
            assert answer["Content-Type"] == "image/jpeg" and answer["X-Content-Type-Options"] == "nosniff"
            assert CANARY.encode() not in answer.content and b"Exif" not in answer.content
            assert "sandbox" in answer["Content-Security-Policy"]
            assert {"private", "no-store"} == set(answer["Cache-Control"].split(", "))
            assert (
                "IMG_0001" not in answer["Content-Disposition"]
                and "filename" in answer["Content-Disposition"]
            )
            assert Image.open(io.BytesIO(answer.content)).size == (40, 80)

    def test_refusals_keep_the_caption(self, owner: Client, group: Group):
        refused = (
            (png_that_claims(40_000, 40_000), "million pixels"),
            (b"<script>alert(1)</script>", "no JPEG, PNG or WebP"),
            (picture("GIF"), "no JPEG, PNG or WebP"),
            (b"", "This file is empty"),
        )
        for data, said in refused:
            answer = self.send(owner, group, data)
            assert answer.status_code == 422 and said in markup.words(answer.content)
            assert markup.read(answer.content).one("input", name="caption").attrs["value"] == "inside"
        assert DevicePhoto.objects.count() == 1

    def test_a_caption_and_deleting(self, owner: Client, stranger: Client, group: Group):
        address = f"/pictures/{group.photo}/"
        assert stranger.post(address, {"do": "delete"}).status_code == 404
        owner.post(address, {"do": "caption", "caption": "outside"})
        assert DevicePhoto.objects.get().caption == "outside"
        owner.post(address, {"do": "delete"})
        assert not DevicePhoto.objects.exists()
        assert owner.get(f"/pictures/{group.photo}/full.jpg").status_code == 404


class TestAfterAStorm:
    def test_many_at_once(self, group: Group):
        steward = signed_in(group.steward)
        others = list(Device.objects.values_list("key", flat=True)[:3])
        answer = steward.post("/devices/due/", {"do": "mark", "devices": others, "reason": "storm of May"})
        assert answer["Location"] == "/devices/?state=due"
        assert DueMark.objects.filter(reason="storm of May").count() == len(others)
        words = markup.words(signed_in(group.owner).get(f"/devices/{others[0]}/").content)
        assert "storm of May" in words or others[0] != group.device
        steward.post("/devices/due/", {"do": "clear", "devices": others})
        assert not DueMark.objects.exists()

    def test_all_of_a_place_in_one_action_with_undo(self, group: Group):
        steward = signed_in(group.steward)
        design = factories.design(group.owner)
        keys = [factories.device(group.owner, design, tag=f"hill {number}") for number in range(130)]
        Device.objects.filter(key__in=keys).update(place="Hill site")
        page = markup.words(steward.get("/devices/due/?place=Hill site").content)
        assert "Mark all 130 at Hill site" in page and "Page 1 of 3" in page
        sent = {"do": "mark_all", "count": "130", "event": "storm", "reason": ""}
        stale = steward.post("/devices/due/?place=Hill site", {**sent, "count": "129"})
        assert stale.status_code == 422 and "130 devices fit now, not 129" in markup.words(stale.content)
        assert not DueMark.objects.exists()
        assert steward.post("/devices/due/?place=Hill site", sent).status_code == 302
        assert set(DueMark.objects.values_list("device__key", flat=True)) == set(keys)
        assert "Storm or flood (130 devices)" in markup.words(steward.get("/devices/due/").content)
        batch = DueMark.objects.values_list("batch", flat=True).first()
        undo = {"do": "undo", "batch": batch}
        assert steward.post("/devices/due/", undo).status_code == 302
        assert not DueMark.objects.exists()
        assert "taken back already" in markup.words(steward.post("/devices/due/", undo).content)

    @pytest.mark.parametrize(
        ("sent", "said"),
        [({"devices": ["{device}"], "reason": ""}, "Say why"), ({"reason": "storm"}, "at least one device")],
    )
    def test_what_was_chosen_and_typed_stays(self, group: Group, sent, said):
        sent = {
            name: [each.format(device=group.device) for each in value] if name == "devices" else value
            for name, value in sent.items()
        }
        answer = signed_in(group.steward).post("/devices/due/", {"do": "mark", **sent})
        assert answer.status_code == 422 and said in markup.words(answer.content)
        boxes = [each for each in markup.read(answer.content).all("input") if "checked" in each.attrs]
        assert [each.attrs["value"] for each in boxes] == sent.get("devices", [])

    def test_members_are_told_who_may(self, owner: Client, group: Group):
        answer = owner.post("/devices/due/", {"do": "mark", "devices": [group.device], "reason": "storm"})
        assert answer.status_code == 403 and not DueMark.objects.exists()


class TestCommissioning:
    def test_choosing(self, owner: Client, group: Group):
        sent = {"version": "1", "baseline": group.test}
        assert owner.post(f"/devices/{group.device}/commissioning/", sent).status_code == 302
        assert service_states.get_service_state(group.owner, group.device).baseline.chosen
        words = markup.words(owner.get(f"/devices/{group.device}/").content)
        assert "the first that counts" not in words

    def test_a_stale_choice(self, owner: Client, group: Group):
        devices.update_device(by=group.owner, device=group.device, version=1, notes="meanwhile")
        sent = {"version": "1", "baseline": group.test}
        answer = owner.post(f"/devices/{group.device}/commissioning/", sent)
        assert answer.status_code == 422 and "meanwhile" in markup.words(answer.content)

    def test_only_tests_that_count_are_offered(self, owner: Client, group: Group):
        bad = factories.record(group.owner, group.device, factories.choke_s2p(seed=4), calibrated="false")
        page = owner.get(f"/devices/{group.device}/commissioning/").content.decode()
        assert group.test in page and bad not in page


class TestTheList:
    def test_states_filters_and_the_next_step(self, owner: Client, group: Group):
        words = markup.words(owner.get("/devices/").content)
        assert "What is due comes first" in words and "Next:" in words
        assert "No device fits" in markup.words(owner.get("/devices/?q=zzz").content)
        assert owner.get("/devices/?state=nonsense&page=x&mine=yes").status_code == 200

    def test_overdue_ones_stand_before_good_ones(self, owner: Client, group: Group):
        old = factories.device(group.owner, group.design, tag="old-one")
        ago = timezone.now().date() - timedelta(days=800)
        factories.record(group.owner, old, factories.choke_s2p(seed=8), measured_on=ago)
        factories.readings(group.owner, old, measured_on=ago)
        factories.readings(group.owner, group.device)
        factories.look(group.owner, group.device, timezone.now().date())
        page = owner.get("/devices/?state=overdue").content.decode()
        assert "old-one" in page
        every = markup.words(owner.get("/devices/").content)
        assert every.index("old-one") < every.index("QX-TAG-77") or "Overdue" not in every
