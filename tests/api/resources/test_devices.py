"""Devices: registered, shown, and changed on the version that was read."""

from __future__ import annotations

import pytest

from tests import factories
from tests.api.scene import PLANTED


class TestRegistering:
    def test_shown_with_its_address_and_tag(self, scene):
        sent = {
            "design": scene.popular,
            "tag": "  choke   7 ",
            "built_on": "2026-01-31",
            "notes": "two\nlines",
        }
        reply = scene.ask("stranger", "POST", "devices/", json=sent)
        assert reply.status_code == 201
        shown = reply.json()
        assert (
            shown["tag"] == "choke 7" and shown["origin"] == "homebrew" and shown["built_on"] == "2026-01-31"
        )
        assert reply["Location"].endswith(f"/devices/{shown['id']}/")
        assert reply["ETag"].startswith(f'"{shown["id"]}.1:')
        assert scene.ask("stranger", "GET", f"devices/{shown['id']}/").json() == shown

    def test_the_same_tag_again_is_a_conflict(self, scene):
        reply = scene.ask("owner", "POST", "devices/", json={"design": scene.rare, "tag": PLANTED})
        assert (reply.status_code, reply.json()["code"]) == (409, "device.tag_taken")
        assert reply.json()["errors"][0]["field"] == "tag"

    @pytest.mark.parametrize(
        ("field", "value"),
        [
            ("tag", ""),
            ("tag", "x" * 65),
            ("tag", None),
            ("tag", "a\x00b"),
            ("origin", "stolen"),
            ("built_on", "2999-01-01"),
            ("built_on", "yesterday"),
            ("notes", "x" * 4001),
            ("notes", {}),
            ("design", "zzzzzzzzzzzz"),
            ("colour", "red"),
        ],
    )
    def test_a_bad_field_is_named(self, scene, field, value):
        sent = {"design": scene.popular, "tag": "new", field: value}
        reply = scene.ask("owner", "POST", "devices/", json=sent)
        assert reply.status_code == 400
        assert [error["field"] for error in reply.json()["errors"]] == [field]


class TestListing:
    def test_own_ones_only(self, scene):
        tags = [row["tag"] for row in scene.ask("owner", "GET", "devices/").json()["results"]]
        assert tags == ["C-9", PLANTED]
        assert scene.ask("stranger", "GET", "devices/").json() == {"results": [], "next": None, "total": 0}

    def test_a_steward_sees_all(self, scene):
        rows = scene.ask("steward", "GET", "devices/").json()["results"]
        others = [f"{scene.popular}-0"] * 5
        assert sorted(row["tag"] for row in rows) == sorted([*others, PLANTED, "C-9", "Check-1"])

    def test_a_table_quotes_what_a_spreadsheet_would_compute(self, scene):
        factories.device(scene.viewers["stranger"], scene.popular, tag="=1+1")
        text = scene.ask("stranger", "GET", "devices/?format=csv").content.decode()
        assert ",'=1+1," in text


class TestChanging:
    def change(self, scene, if_match=None, **fields):
        headers = {} if if_match is None else {"If-Match": if_match}
        return scene.ask("owner", "PATCH", f"devices/{scene.device}/", json=fields, headers=headers)

    def test_on_the_version_that_was_read(self, scene):
        tag = scene.ask("owner", "GET", f"devices/{scene.device}/")["ETag"]
        reply = self.change(scene, tag, notes="rewound")
        assert reply.status_code == 200 and reply.json()["notes"] == "rewound"
        assert reply["ETag"].startswith(f'"{scene.device}.2:') and reply.json()["version"] == 2

    def test_without_if_match(self, scene):
        assert self.change(scene, notes="x").status_code == 428

    @pytest.mark.parametrize(
        "tag",
        [
            '"{device}.9"',
            '"{device}.9:0123"',
            'W/"{device}.1"',
            '"other.1"',
            "{device}.1",
            "",
            '"a", "b"',
            "W/*",
        ],
    )
    def test_a_stale_weak_or_foreign_tag(self, scene, tag):
        assert self.change(scene, tag.format(device=scene.device), notes="x").status_code == 412
        assert scene.ask("owner", "GET", f"devices/{scene.device}/").json()["notes"] == ""

    @pytest.mark.parametrize("tag", ["*", '"other.1", "{device}.1"', '"{device}.1:0123:gzip"'])
    def test_any_version_and_one_of_several(self, scene, tag):
        assert self.change(scene, tag.format(device=scene.device), notes="x").status_code == 200

    def test_two_changes_on_one_version_do_not_undo_each_other(self, scene):
        tag = f'"{scene.device}.1"'
        assert self.change(scene, tag, notes="first").status_code == 200
        assert self.change(scene, tag, notes="second").status_code == 412
        assert scene.ask("owner", "GET", f"devices/{scene.device}/").json()["notes"] == "first"

    def test_a_change_between_our_look_and_our_write(self, scene, monkeypatch):
        from measurements.errors import BenchnightError
        from measurements.services.devices import devices

        def stale(**_named):
            raise BenchnightError("device.stale", "Somebody was faster.", kind="conflict")

        monkeypatch.setattr(devices, "update_device", stale)
        assert self.change(scene, "*", notes="x").status_code == 412

    def test_a_tag_that_is_taken(self, scene):
        assert self.change(scene, "*", tag="C-9").status_code == 409

    def test_a_bad_field_changes_nothing(self, scene):
        assert self.change(scene, "*", notes="x", origin="stolen").status_code == 400
        assert scene.ask("owner", "GET", f"devices/{scene.device}/").json()["version"] == 1
