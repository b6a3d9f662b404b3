"""Tests: recorded whole and once, shown, drawn, compared and withdrawn."""

from __future__ import annotations

import base64
import hashlib

import pytest

from measurements.models import Test
from measurements.services.releases import releases
from tests import factories
from tests.api.scene import PLANTED

DATA = factories.choke_s2p(2800, seed=31)


def form(scene, **fields):
    return {
        "device": scene.device,
        "measured_on": "2026-03-21",
        "kind": "common_mode",
        "calibrated": "true",
        "sweep": DATA,
        **fields,
    }


@pytest.fixture
def eleven(scene) -> int:
    """Number of a release in which eleven people have a device of the popular design, so it shows details."""
    factories.evidence(5, first=5)
    return releases.make_release().number


class TestRecording:
    def test_stored_and_computed(self, scene):
        reply = scene.ask("owner", "POST", "tests/", form=form(scene))
        shown = reply.json()
        assert reply.status_code == 201 and reply["Location"].endswith(f"/tests/{shown['id']}/")
        # the invented sweep is no winding of the scene's recipe: it waits for its owner's word
        assert shown["evidence"] == "left_out" and shown["waits_for_recipe"] is True
        confirmed = scene.ask("owner", "POST", "tests/", form=form(scene, recipe_confirmed="true"))
        assert confirmed.status_code == 200 and confirmed.json()["id"] == shown["id"]
        shown = confirmed.json()
        assert shown["evidence"] == "counts" and shown["published"] is False
        assert (shown["waits_for_recipe"], shown["recipe_confirmed"]) == (False, True)
        assert shown["sweeps"][0]["sha256"] == hashlib.sha256(DATA).hexdigest()
        assert scene.ask("owner", "GET", f"tests/{shown['id']}/").json() == shown

    def test_the_same_again_is_the_one_already_stored(self, scene):
        first = scene.ask("owner", "POST", "tests/", form=form(scene))
        count = Test.objects.count()
        again = scene.ask("owner", "POST", "tests/", form=form(scene))
        assert (first.status_code, again.status_code) == (201, 200)
        assert first.json() == again.json() and Test.objects.count() == count

    def test_for_a_device_of_somebody_else(self, scene):
        reply = scene.ask("stranger", "POST", "tests/", form=form(scene))
        assert (reply.status_code, reply.json()["code"]) == (404, "device.not_found")

    @pytest.mark.parametrize(
        ("fields", "field"),
        [
            ({"device": ""}, "device"),
            ({"measured_on": "March"}, "measured_on"),
            ({"measured_on": "2999-01-01"}, "measured_on"),
            ({"kind": ""}, "kind"),
            ({"sweep": b"no sweep"}, "sweep"),
            ({"serial": "12"}, "serial"),
        ],
    )
    def test_a_fault_stores_nothing(self, scene, fields, field):
        count = Test.objects.count()
        reply = scene.ask("owner", "POST", "tests/", form=form(scene, **fields))
        assert reply.status_code == 400 and reply.json()["errors"][0]["field"] == field
        assert Test.objects.count() == count


class TestShowing:
    def test_own_ones_only_the_last_first(self, scene):
        own = scene.ask("owner", "GET", "tests/").json()["results"]
        assert len(own) == 2 and own[1]["id"] == scene.test
        assert scene.ask("stranger", "GET", "tests/").json()["results"] == []
        seen = scene.ask("steward", "GET", "tests/").json()["results"]
        checks = [row for row in seen if row["device_tag"] == "Check-1"]
        # seven of the seven contributed devices, and six of the check standard
        assert (len(seen), len(checks)) == (13, 6)
        assert len({row["device"] for row in seen if row not in checks}) == 7

    def test_of_one_device(self, scene):
        rows = scene.ask("owner", "GET", f"tests/?device={scene.device}").json()["results"]
        assert [row["id"] for row in rows] == [scene.test]
        assert scene.ask("stranger", "GET", f"tests/?device={scene.device}").json()["results"] == []

    def test_it_says_that_it_is_published(self, scene):
        shown = scene.ask("owner", "GET", f"tests/{scene.test}/").json()
        assert shown["published"] is True and shown["evidence"] == "counts"


class TestFiles:
    def test_the_bytes_come_back_unchanged_and_are_never_shown_in_a_browser(self, scene):
        reply = scene.ask("owner", "GET", f"tests/{scene.test}/sweeps/sweep/")
        assert reply.content == factories.choke_s2p(3100, seed=77, comment=PLANTED)
        digest = base64.b64encode(hashlib.sha256(reply.content).digest()).decode()
        assert reply["Content-Digest"] == f"sha-256=:{digest}:"  # RFC 9530
        # a name of the sender's is never sent on: it may tell the place, the device or the person
        assert reply["Content-Disposition"] == f'attachment; filename="{scene.test}-sweep.s2p"'
        assert PLANTED not in str(reply.headers)
        assert reply["Content-Type"] == "application/octet-stream"
        assert reply["X-Content-Type-Options"] == "nosniff" and "sandbox" in reply["Content-Security-Policy"]

    def test_a_role_that_was_not_sent(self, scene):
        reply = scene.ask("owner", "GET", f"tests/{scene.test}/sweeps/far_open/")
        assert (reply.status_code, reply.json()["code"]) == (404, "sweep.not_found")

    @pytest.mark.parametrize("name", ['a"b\\c.s2p', "Spule für 40 m.s2p", "..\\..\\x.s2p", "a;b=c.s2p"])
    def test_a_name_cannot_break_the_header(self, scene, name):
        key = factories.record(
            scene.viewers["owner"], scene.device, factories.choke_s2p(900, seed=9), name=name
        )
        reply = scene.ask("owner", "GET", f"tests/{key}/sweeps/sweep/")
        assert reply.status_code == 200
        assert reply["Content-Disposition"] == f'attachment; filename="{key}-sweep.s2p"'


class TestChartAndComparison:
    def test_three_forms(self, scene):
        path = f"tests/{scene.test}/chart/"
        assert "vega-lite" in scene.ask("owner", "GET", path).json()["$schema"]
        assert scene.ask("owner", "GET", f"{path}?format=svg").content.startswith(b"<svg")
        assert scene.ask("owner", "GET", f"{path}?format=png").content.startswith(b"\x89PNG")

    def test_readings_are_never_drawn(self, scene):
        sent = form(scene, readings='[{"frequency_hz": 7100000, "value": 31.2}]')
        del sent["sweep"]
        key = scene.ask("owner", "POST", "tests/", form=sent).json()["id"]
        reply = scene.ask("owner", "GET", f"tests/{key}/chart/")
        assert (reply.status_code, reply.json()["code"]) == (404, "chart.nothing_to_draw")

    def test_where_it_stands(self, scene, eleven):
        shown = scene.ask("owner", "GET", f"tests/{scene.test}/comparison/").json()
        band = next(each for each in shown["bands"] if each["band"] == "40m")
        assert shown["design"] == scene.popular and shown["release"] == eleven
        assert band["devices"] == 11 and 10 <= band["percentile"] <= 90
        assert band["from_median_db"] == pytest.approx(band["own_db"] - band["median_db"], abs=0.011)
        assert shown["outlier"] is False and shown["causes"] == [] and shown["basis"] == "design"

    @pytest.mark.parametrize("peak_ohm", [3100, 300])
    def test_below_ten_people_it_has_a_median_in_whole_decibels_and_no_place(self, scene, peak_ohm):
        key = factories.record(scene.viewers["owner"], scene.device, factories.choke_s2p(peak_ohm, seed=31))
        shown = scene.ask("owner", "GET", f"tests/{key}/comparison/").json()
        assert shown["release"] == scene.release
        compared = [band for band in shown["bands"] if band["devices"] is not None]
        assert {band["devices"] for band in compared} == {6} and len(compared) == 10
        assert all(band["median_db"] % 1 == 0 and band["percentile"] is None for band in compared)
        assert all(
            band["from_median_db"] == pytest.approx(band["own_db"] - band["median_db"], abs=0.011)
            for band in compared
        )
        assert shown["outlier"] is None and shown["basis"] != "design"

    def test_why_it_differs(self, scene, eleven):
        # a tenth of the others' peak with the same coil and capacitance: 1/300 - 1/3000 ohm lies across it
        weak = factories.record(scene.viewers["owner"], scene.device, factories.choke_s2p(300, seed=31))
        shown = scene.ask("owner", "GET", f"tests/{weak}/comparison/").json()
        assert shown["outlier"] is True and shown["basis"] == "design"
        (cause,) = shown["causes"]
        assert cause["code"] == "leak" and cause["leak_ohm"] == pytest.approx(333, rel=0.1)
        assert cause["from_hz"] < 10e6 < cause["to_hz"] and cause["mix"] is None

    def test_a_design_without_enough_evidence_gives_no_comparison(self, scene):
        rows = scene.ask("owner", "GET", "tests/").json()["results"]
        lonely = next(row["id"] for row in rows if row["design"] == scene.rare)
        shown = scene.ask("owner", "GET", f"tests/{lonely}/comparison/").json()
        bands = shown["bands"]
        # what the recipe alone says needs nobody else's figures
        assert shown["outlier"] is None and shown["basis"] == "recipe"
        assert all(each["share"] < 0.985 for each in shown["likelihoods"])
        assert bands and all(band["devices"] is None and band["median_db"] is None for band in bands)


class TestPrivacy:
    def test_its_owner_keeps_it_private_and_lets_it_count_again(self, scene):
        for private, evidence in ((True, "left_out"), (True, "left_out"), (False, "counts")):
            reply = scene.ask("owner", "PATCH", f"tests/{scene.test}/", json={"private": private})
            assert reply.status_code == 200, reply.content
            assert (reply.json()["private"], reply.json()["evidence"]) == (private, evidence)

    @pytest.mark.parametrize("role", ["stranger", "operator", "steward", "anonymous"])
    def test_it_is_the_owners_choice_alone(self, scene, role):
        reply = scene.ask(role, "PATCH", f"tests/{scene.test}/", json={"private": True})
        assert reply.status_code in (401, 404)
        assert not scene.ask("owner", "GET", f"tests/{scene.test}/").json()["private"]

    @pytest.mark.parametrize(
        "body", [{}, {"private": None}, {"private": "x"}, {"private": True, "kind": "dc"}]
    )
    def test_an_unclear_change_is_refused(self, scene, body):
        assert scene.ask("owner", "PATCH", f"tests/{scene.test}/", json=body).status_code == 400

    def test_sent_private_it_never_counts_and_sent_again_it_stays_so(self, scene):
        sent = [form(scene, private=private) for private in ("true", "false", "")]
        replies = [scene.ask("owner", "POST", "tests/", form=each) for each in sent]
        assert [reply.status_code for reply in replies] == [201, 200, 200]
        assert {(reply.json()["private"], reply.json()["evidence"]) for reply in replies} == {
            (True, "left_out")
        }

    def test_a_published_one_that_is_sent_again_as_private_is_private(self, scene):
        scene.ask("owner", "POST", "tests/", form=form(scene))
        reply = scene.ask("owner", "POST", "tests/", form=form(scene, private="true"))
        assert (reply.status_code, reply.json()["private"]) == (200, True)


class TestWithdrawing:
    def test_it_is_gone_with_its_files(self, scene):
        reply = scene.ask("owner", "DELETE", f"tests/{scene.test}/")
        assert reply.status_code == 204 and not reply.content
        for part in ("", "sweeps/sweep/", "chart/", "comparison/"):
            assert scene.ask("owner", "GET", f"tests/{scene.test}/{part}").status_code == 404
        assert scene.ask("owner", "DELETE", f"tests/{scene.test}/").status_code == 404

    def test_not_by_somebody_else(self, scene):
        assert scene.ask("stranger", "DELETE", f"tests/{scene.test}/").status_code == 404
        assert scene.ask("owner", "GET", f"tests/{scene.test}/").status_code == 200
