"""Nights and intakes over the API: who may, what is answered, and what is refused with which words."""

from __future__ import annotations

import io
import zipfile

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from measurements.services.intakes import intakes
from tests import club, factories

HEAD = "file,tag,contributor,kind,method,role,ratio,design"


@pytest.fixture
def night(scene) -> str:
    reply = scene.ask("operator", "POST", "nights/", json={"held_on": "2026-05-14", "title": "May bench"})
    assert reply.status_code == 201
    return reply.json()["id"]


def sweep(seed: int, name: str) -> SimpleUploadedFile:
    return SimpleUploadedFile(name, factories.choke_s2p(seed=seed, points=101))


def manifest(*lines: str) -> SimpleUploadedFile:
    return SimpleUploadedFile("manifest.csv", "\n".join([HEAD, *lines]).encode())


class TestNights:
    def test_opened_and_read_back_with_its_tag(self, scene, night):
        reply = scene.ask("operator", "GET", f"nights/{night}/")
        shown = reply.json()
        assert (shown["title"], shown["operators"], shown["devices"]) == ("May bench", ["Olga"], [])
        assert reply["ETag"].startswith(f'"{night}.1')
        assert shown["jig_figures"] == {}
        listed = scene.ask("operator", "GET", "nights/").json()["results"]
        benches = [row["id"] for row in listed if row["title"].startswith("Bench 2026-")]
        # six nights with the check standard of the scene
        assert len(benches) == 6 and len(listed) == 8
        assert {row["id"] for row in listed} - set(benches) == {night, scene.night}
        assert "title" in scene.ask("operator", "GET", "nights/?format=csv").content.decode()

    def test_another_operator_knows_nothing_of_it(self, scene, night):
        from measurements.services.accounts import access_tokens

        factories.member("Ysolde", "operator")
        scene.tokens["ysolde"] = access_tokens.issue_token(name="Ysolde", days=1, label="x")
        try:
            for method, path, options in (
                ("GET", f"nights/{night}/", {}),
                ("PATCH", f"nights/{night}/", {"json": {"title": "x"}}),
                ("POST", f"nights/{night}/jig/", {"form": {"jig_open": b"x"}}),
                ("POST", f"nights/{night}/intake/", {"form": {"sweep": b"x"}}),
                ("GET", f"intakes/{scene.intake}/", {}),
            ):
                known = scene.ask("ysolde", method, path, **options)
                unknown = scene.ask(
                    "ysolde", method, path.replace(night, "zz").replace(scene.intake, "zz"), **options
                )
                assert known.status_code == 404
                assert known.content == unknown.content
            assert scene.ask("ysolde", "GET", "nights/").json()["results"] == []
        finally:
            del scene.tokens["ysolde"]

    @pytest.mark.parametrize(
        ("field", "value"),
        [("held_on", "soon"), ("held_on", "1950-01-01"), ("title", "x" * 121), ("colour", "red")],
    )
    def test_a_bad_field_is_named(self, scene, field, value):
        reply = scene.ask("operator", "POST", "nights/", json={"held_on": "2026-05-14", field: value})
        assert reply.status_code == 400
        assert [error["field"] for error in reply.json()["errors"]] == [field]

    def test_changed_on_the_version_that_was_read(self, scene, night):
        path = f"nights/{night}/"
        tag = scene.ask("operator", "GET", path)["ETag"]
        changed = scene.ask("operator", "PATCH", path, json={"calibrated": True}, headers={"If-Match": tag})
        assert changed.json()["calibrated"] is True
        stale = scene.ask("operator", "PATCH", path, json={"notes": "x"}, headers={"If-Match": tag})
        assert stale.status_code == 412
        assert scene.ask("operator", "PATCH", path, json={"notes": "x"}).status_code == 428


class TestJig:
    def test_its_figures_are_answered_and_stay_with_the_night(self, scene, night):
        files = {role: SimpleUploadedFile(upload.name, upload.data) for role, upload in club.jig().items()}
        reply = scene.ask("operator", "POST", f"nights/{night}/jig/", form=files)
        assert reply.status_code == 200
        figures = reply.json()
        assert figures["good_enough"] is True
        assert figures["good_up_to_db"] == pytest.approx(figures["floor_db"] - 10)
        shown = scene.ask("operator", "GET", f"nights/{night}/").json()
        assert shown["jig_figures"] == figures
        assert {file["role"] for file in shown["jig_files"]} == set(files)

    @pytest.mark.parametrize(
        ("form", "code"),
        [
            ({}, "jig.nothing"),
            ({"sweep": b"# Hz S RI R 50"}, "jig.role"),
            ({"jig_open": b"# Hz S RI R 50\n"}, "sweep.no_data"),
            ({"kind": "common_mode"}, "field.unknown"),
        ],
    )
    def test_what_is_no_jig_is_refused(self, scene, night, form, code):
        reply = scene.ask("operator", "POST", f"nights/{night}/jig/", form=form)
        assert reply.status_code == 400
        assert reply.json()["errors"][0]["code"] == code, reply.json()


class TestIntakes:
    def test_a_manifest_and_sweeps(self, scene, night, settings):
        settings.BENCHNIGHT_UPLOADS_PER_HOUR = 1  # an intake does not count as uploads
        lines = [
            f"{name}.s2p,G-{name},Gwenna,common_mode,,sweep,1:1,{scene.rare}" for name in ("1", "2", "3")
        ]
        form = {
            "manifest": manifest(*lines),
            "sweep": [sweep(n, f"{n}.s2p") for n in (1, 2, 3)],
        }
        reply = scene.ask("operator", "POST", f"nights/{night}/intake/", form=form)
        assert reply.status_code == 202
        key = reply.json()["id"]
        assert reply["Location"].endswith(f"/intakes/{key}/")
        assert (reply.json()["state"], reply.json()["total"], reply.json()["done"]) == ("queued", 3, 0)
        intakes.work_on_intake(intake=key)
        shown = scene.ask("operator", "GET", f"intakes/{key}/").json()
        assert (shown["state"], shown["done"]) == ("done", 3)
        assert {(file["state"], file["reason"]) for file in shown["files"]} == {("stored", None)}
        test = scene.ask("operator", "GET", f"tests/{shown['files'][0]['test']}/").json()
        assert (test["night"], test["device_tag"]) == (night, "G-1")
        assert scene.ask("stranger", "GET", f"tests/{test['id']}/").status_code == 404
        listed = scene.ask("operator", "GET", f"nights/{night}/").json()
        assert [device["tag"] for device in listed["devices"]] == ["G-1", "G-2", "G-3"]
        assert [device["owner"] for device in listed["devices"]] == ["Gwenna"] * 3
        own = scene.ask("operator", "GET", "devices/").json()["results"]
        assert [device["tag"] for device in own] == ["Check-1"]  # none of the night's

    def test_a_zip_of_both(self, scene, night):
        packed = io.BytesIO()
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr("manifest.csv", f"{HEAD}\n1.s2p,G-1,Gwenna,common_mode,,,,{scene.rare}\n")
            archive.writestr("1.s2p", factories.choke_s2p(points=101))
        form = {"archive": SimpleUploadedFile("night.zip", packed.getvalue())}
        reply = scene.ask("operator", "POST", f"nights/{night}/intake/", form=form)
        assert reply.status_code == 202
        intakes.work_on_intake(intake=reply.json()["id"])
        shown = scene.ask("operator", "GET", f"intakes/{reply.json()['id']}/").json()
        assert [(file["file"], file["state"]) for file in shown["files"]] == [("1.s2p", "stored")]

    @pytest.mark.parametrize(
        ("form", "status", "code"),
        [
            (lambda: {}, 400, "intake.empty"),
            (lambda: {"sweep": sweep(1, "1.s2p"), "colour": "red"}, 400, "field.unknown"),
            (lambda: {"sweep": sweep(1, "1.s2p"), "far_open": b"x"}, 400, "field.unknown"),
            (lambda: {"manifest": manifest(), "archive": b"x"}, 400, "intake.either"),
            (lambda: {"archive": b"no zip at all"}, 400, "zip.broken"),
            (lambda: {"sweep": [sweep(1, "1.s2p"), sweep(2, "1.s2p")]}, 400, "intake.same_name"),
        ],
    )
    def test_what_cannot_be_taken_in(self, scene, night, form, status, code):
        reply = scene.ask("operator", "POST", f"nights/{night}/intake/", form=form())
        assert (reply.status_code, reply.json()["errors"][0]["code"]) == (status, code), reply.json()

    def test_a_faulty_manifest_names_line_and_column(self, scene, night):
        form = {"manifest": manifest("1.s2p,G-1", "1.s2p,G-2"), "sweep": [sweep(1, "1.s2p")]}
        reply = scene.ask("operator", "POST", f"nights/{night}/intake/", form=form)
        (error,) = reply.json()["errors"]
        assert (error["code"], error["field"], error["line"]) == ("manifest.file_twice", "file", 3)

    def test_too_large_is_413(self, scene, night, settings):
        settings.BENCHNIGHT_SWEEP_BYTES = 1000
        reply = scene.ask("operator", "POST", f"nights/{night}/intake/", form={"sweep": sweep(1, "1.s2p")})
        assert (reply.status_code, reply.json()["code"]) == (413, "sweep.too_large")

    def test_the_same_key_makes_one_intake(self, scene, night):
        form = lambda: {"sweep": sweep(1, "1.s2p")}  # noqa: E731
        headers = {"Idempotency-Key": "night-1"}
        first, again = (
            scene.ask("operator", "POST", f"nights/{night}/intake/", form=form(), headers=headers)
            for _ in range(2)
        )
        assert first.json()["id"] == again.json()["id"]


class TestOperatorsRegisterAndRecord:
    def test_a_guests_device_and_its_test(self, scene, night):
        sent = {"design": scene.rare, "tag": "G-9", "night": night, "contributor": "Gwenna"}
        device = scene.ask("operator", "POST", "devices/", json=sent)
        assert (device.status_code, device.json()["owner"]) == (201, "Gwenna")
        form = {
            "device": device.json()["id"],
            "measured_on": "2026-05-14",
            "kind": "common_mode",
            "night": night,
            "sweep": factories.choke_s2p(points=101),
        }
        test = scene.ask("operator", "POST", "tests/", form=form)
        assert (test.status_code, test.json()["night"]) == (201, night)
        assert scene.ask("operator", "DELETE", f"tests/{test.json()['id']}/").status_code == 404
        assert scene.ask("steward", "DELETE", f"tests/{test.json()['id']}/").status_code == 204

    def test_a_night_at_the_bench_has_no_hourly_limit(self, scene, night, settings):
        settings.BENCHNIGHT_UPLOADS_PER_HOUR = 1
        sent = {"design": scene.rare, "tag": "G-9", "night": night, "contributor": "Gwenna"}
        device = scene.ask("operator", "POST", "devices/", json=sent).json()["id"]
        form = {"device": device, "measured_on": "2026-05-14", "kind": "common_mode"}
        answers = []
        for seed in range(3):
            sent = form | {"night": night, "sweep": factories.choke_s2p(seed=seed, points=31)}
            answers.append(scene.ask("operator", "POST", "tests/", form=sent).status_code)
        assert answers == [201, 201, 201]
        for _ in range(2):  # what is refused does not count either
            sent = form | {"sweep": factories.choke_s2p(seed=9, points=31)}
            refused = scene.ask("operator", "POST", "tests/", form=sent)
            assert (refused.status_code, refused.json()["code"]) == (400, "test.night_missing")
        own = scene.ask("operator", "POST", "devices/", json={"design": scene.rare, "tag": "O-1"}).json()[
            "id"
        ]
        first, second = (
            scene.ask(
                "operator",
                "POST",
                "tests/",
                form=form | {"device": own, "sweep": factories.choke_s2p(seed=seed, points=31)},
            )
            for seed in (10, 11)
        )
        assert first.status_code == 201
        assert (second.status_code, second.json()["code"]) == (429, "limit.uploads")
        # naming a night that one does not run gets nobody around it
        sent = form | {"night": night, "device": scene.device, "sweep": factories.choke_s2p(points=31)}
        assert scene.ask("owner", "POST", "tests/", form=sent).status_code == 403

    def test_members_register_for_nobody_else(self, scene, night):
        sent = {"design": scene.rare, "tag": "G-9", "night": night, "contributor": "Gwenna"}
        assert scene.ask("owner", "POST", "devices/", json=sent).status_code == 403
        alone = scene.ask("operator", "POST", "devices/", json={**sent, "night": "zz"})
        assert alone.status_code == 404
        del sent["contributor"]
        assert (
            scene.ask("operator", "POST", "devices/", json=sent).json()["errors"][0]["field"] == "contributor"
        )


class TestPersonsOfANight:
    """A steward says who came and who is whom; the night's list shows it to nobody else."""

    def test_guests_are_confirmed_one_by_one_or_all_and_two_are_joined(self, scene, night):
        from measurements.services.nights import guests

        by = factories.member("Olga", "operator")
        keys = [guests.add_attendee(by=by, night=night, name=f"Came {n}").key for n in range(3)]
        path = f"nights/{night}/contributors"
        one = scene.ask("steward", "POST", f"{path}/confirm/", json={"contributors": keys[:1]})
        assert (one.status_code, one.json()) == (200, {"confirmed": 1})
        early = scene.ask("steward", "POST", f"{path}/join/", json={"first": keys[0], "second": keys[1]})
        assert (early.status_code, early.json()["code"]) == (409, "person.unconfirmed")
        rest = scene.ask("steward", "POST", f"{path}/confirm/", json={})
        assert rest.json() == {"confirmed": 2}
        pair = {"first": keys[0], "second": keys[1]}
        assert scene.ask("steward", "POST", f"{path}/join/", json=pair).status_code == 204
        unknown = scene.ask("steward", "POST", f"{path}/confirm/", json={"contributors": ["nobody"]})
        assert (unknown.status_code, unknown.json()["code"]) == (404, "night.nobody")
        assert scene.ask("steward", "POST", f"{path}/join/", json={"first": keys[0]}).status_code == 400
        assert scene.ask("steward", "POST", "nights/zz/contributors/confirm/", json={}).status_code == 404
