"""Inspections and service states over the API."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from tests.api.scene import PLANTED

LOOK = {
    "inspected_on": "2026-03-20",
    "findings": {"terminals": {"state": "ok"}, "moisture": {"state": "fault", "note": PLANTED}},
    "dc_ohm": 0.2,
    "notes": PLANTED,
}


class TestInspections:
    def post(self, scene, role="owner", **changes):
        return scene.ask(role, "POST", f"devices/{scene.device}/inspections/", json={**LOOK, **changes})

    def test_recorded_and_listed(self, scene):
        reply = self.post(scene)
        assert reply.status_code == 201
        shown = reply.json()
        assert shown["findings"] == [
            {"item": "terminals", "state": "ok", "note": ""},
            {"item": "moisture", "state": "fault", "note": PLANTED},
        ]
        assert (shown["dc_ohm"], shown["notes"], shown["device"]) == (0.2, PLANTED, scene.device)
        listed = scene.ask("owner", "GET", f"devices/{scene.device}/inspections/").json()
        assert listed == {"results": [shown], "next": None, "total": 1}

    def test_sent_again_it_is_the_first(self, scene):
        first, again = self.post(scene), self.post(scene)
        assert (again.status_code, again.json()) == (200, first.json())

    @pytest.mark.parametrize(
        ("changes", "field"),
        [
            ({"inspected_on": "soon"}, "inspected_on"),
            ({"inspected_on": (timezone.now().date() + timedelta(days=9)).isoformat()}, "inspected_on"),
            ({"findings": {"paint": {"state": "ok"}}}, "findings.paint"),
            ({"findings": {"terminals": {"state": "fine"}}}, "findings.terminals.state"),
            ({"findings": {"terminals": {"state": "ok", "colour": "red"}}}, "findings.terminals.colour"),
            ({"findings": {}, "dc_ohm": None}, "findings"),
            ({"findings": []}, "findings"),
            ({"dc_ohm": -1}, "dc_ohm"),
            ({"dc_ohm": "much"}, "dc_ohm"),
            ({"notes": "x" * 4001}, "notes"),
            ({"paint": "red"}, "paint"),
        ],
    )
    def test_a_bad_field_is_named(self, scene, changes, field):
        reply = self.post(scene, **changes)
        assert reply.status_code == 400
        assert reply.json()["errors"][0]["field"] == field

    def test_a_night_that_is_not_mine(self, scene):
        assert self.post(scene, night="zzzzzzzzzzzz").status_code in (403, 404)

    def test_others_learn_nothing(self, scene):
        self.post(scene)
        for role in ("stranger", "operator", "anonymous"):
            for path in ("inspections", "service"):
                reply = scene.ask(role, "GET", f"devices/{scene.device}/{path}/")
                assert reply.status_code in (401, 404) and PLANTED not in reply.content.decode()

    def test_a_table(self, scene):
        self.post(scene)
        text = scene.ask("owner", "GET", f"devices/{scene.device}/inspections/?format=csv").content.decode()
        assert "2026-03-20" in text


class TestService:
    def get(self, scene, role="owner"):
        return scene.ask(role, "GET", f"devices/{scene.device}/service/").json()

    def test_a_state_with_reasons_and_the_next_step(self, scene):
        shown = self.get(scene)
        assert shown["state"] == "untested" and shown["reasons"][0]["weight"] == shown["state"]
        assert "through_path_unknown" in [each["code"] for each in shown["reasons"]]
        assert {each["kind"] for each in shown["rests_on"]} == {"common_mode"} and shown["not_covered"]
        assert [each["state"] for each in shown["items"]] == ["not_looked"] * 11
        assert shown["next_step"]["message"].endswith(".")
        assert shown["newest_test"] == scene.test and shown["baseline"]["test"] == scene.test
        assert shown["limits"]["benchmark_db"] == 20.0

    def test_an_inspection_counts_and_its_note_is_not_repeated(self, scene):
        reply = scene.ask("owner", "POST", f"devices/{scene.device}/inspections/", json=LOOK)
        assert reply.status_code == 201
        shown = self.get(scene)
        assert shown["state"] == "unserviceable" and shown["reasons"][0]["code"] == "inspection_fault"
        assert PLANTED not in str(shown)

    def test_a_steward_sees_the_same(self, scene):
        assert self.get(scene, "steward") == self.get(scene)


class TestPlaceAndBaseline:
    def change(self, scene, **fields):
        return scene.ask("owner", "PATCH", f"devices/{scene.device}/", json=fields, headers={"If-Match": "*"})

    def test_where_it_is_in_service(self, scene):
        assert self.change(scene, place="mast  two").json()["place"] == "mast two"
        assert scene.ask("owner", "GET", f"devices/{scene.device}/").json()["place"] == "mast two"

    def test_out_of_service_for_good(self, scene):
        assert self.change(scene, retired_on="2026-04-01").json()["retired_on"] == "2026-04-01"
        shown = scene.ask("owner", "GET", f"devices/{scene.device}/service/").json()
        assert shown["due_on"] is None and shown["retired_on"] == "2026-04-01"

    def test_its_commissioning_test(self, scene):
        assert self.change(scene, baseline=scene.test).status_code == 200
        shown = scene.ask("owner", "GET", f"devices/{scene.device}/service/").json()
        assert shown["baseline"]["chosen"] is True
        assert self.change(scene, baseline="zzzzzzzzzzzz").status_code == 400
        assert self.change(scene, baseline=None).status_code == 200

    @pytest.mark.parametrize(
        ("field", "value"),
        [("place", "x" * 121), ("place", "a\x00b"), ("retired_on", "2999-01-01"), ("place", 5)],
    )
    def test_a_bad_field_is_named(self, scene, field, value):
        reply = self.change(scene, **{field: value})
        assert reply.status_code == 400 and reply.json()["errors"][0]["field"] == field

    def test_registered_with_its_place(self, scene):
        sent = {"design": scene.popular, "tag": "shed", "place": "shed"}
        assert scene.ask("owner", "POST", "devices/", json=sent).json()["place"] == "shed"
