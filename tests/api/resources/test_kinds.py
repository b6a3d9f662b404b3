"""Evidence of loss and match through the API: `kind`, `limit`, curves and Touchstone of a ratio device."""

from __future__ import annotations

import csv
import io

import numpy as np
import pytest
import skrf

from measurements.services.releases import releases
from tests import ratio_benches

PEOPLE = 6


@pytest.fixture
def unun(scene) -> str:
    """A 49:1 unun whose loss and match six people measured."""
    key = ratio_benches.evidence(PEOPLE)
    releases.make_release()
    return key


def ask(scene, path: str, role: str = "owner"):
    reply = scene.ask(role, "GET", path)
    assert reply.status_code == 200, reply.content
    return reply


class TestEvidence:
    def test_by_default_of_what_the_design_is_judged_by_first(self, scene, unun):
        (row,) = ask(scene, f"designs/{unun}/evidence/?band=40m").json()["results"]
        assert (row["kind"], row["benchmark_db"], row["limit"]) == ("insertion_loss", None, 0.5)
        assert row["devices"] == PEOPLE and "rejection_db" not in row and "swr" not in row
        assert set(row["loss_db"]) >= {"median", "p10", "p90", "tolerance_low", "tolerance_high"}

    @pytest.mark.parametrize(
        ("kind", "metric", "limit"),
        [
            ("load_match", "swr", 1.5),
            ("insertion_loss", "loss_db", 0.5),
            ("common_mode", "rejection_db", None),
        ],
    )
    def test_kind_chooses(self, scene, unun, kind, metric, limit):
        (row,) = ask(scene, f"designs/{unun}/evidence/?band=40m&kind={kind}").json()["results"]
        assert (row["kind"], row["limit"], metric in row) == (kind, limit, True)

    def test_another_limit_waits_for_ten_people(self, scene, unun):
        (row,) = ask(scene, f"designs/{unun}/evidence/?band=40m&limit=0.4").json()["results"]
        assert (row["limit"], row["verdict"], row["chance"]) == (0.4, None, None)
        assert "10 people" in row["reason"] and row["loss_db"]["median"] is not None

    @pytest.mark.parametrize(
        ("words", "code"),
        [
            ("kind=loss", "kind"),
            ("kind=common_mode&limit=0.4", "limit.kind"),
            ("kind=insertion_loss&limit=0", "limit"),
            ("kind=load_match&limit=1.0", "limit.out_of_range"),
        ],
    )
    def test_what_is_refused(self, scene, unun, words, code):
        reply = scene.ask("owner", "GET", f"designs/{unun}/evidence/?{words}")
        assert reply.status_code == 400
        said = reply.json()
        assert code in {said["code"], *(error["field"] for error in said["errors"])}

    def test_the_public_asks_in_steps(self, scene, unun):
        reply = scene.ask("anonymous", "GET", f"designs/{unun}/evidence/?limit=0.41")
        assert reply.status_code == 400 and reply.json()["code"] == "limit.step"
        (row,) = ask(scene, f"designs/{unun}/evidence/?band=40m", "anonymous").json()["results"]
        assert row["devices"] == "5-9" and row["verdict"] == "typically_meets"

    def test_rows_of_one_kind(self, scene, unun):
        rows = ask(scene, f"evidence/?design={unun}&kind=load_match").json()["results"]
        assert {row["kind"] for row in rows} == {"load_match"} and len(rows) > 5
        assert all(row["loss_db"] is None and row["swr"]["median"] >= 1 for row in rows)
        text = ask(scene, f"evidence/?design={unun}&format=csv").content.decode()
        kinds = {row["kind"] for row in csv.DictReader(io.StringIO(text))}
        assert kinds == {"insertion_loss", "load_match"}


class TestLists:
    def test_a_list_answers_each_design_by_its_own_kind(self, scene, unun):
        kinds = {row["id"]: row["kind"] for row in ask(scene, "designs/").json()["results"]}
        assert kinds[unun] == "insertion_loss" and kinds[scene.popular] == "common_mode"

    def test_limit_is_of_loss_beside_its_kind_and_rows_on_a_page_otherwise(self, scene, unun):
        asked = ask(scene, "designs/?kind=insertion_loss&ratio=49:1&band=40m&limit=0.4").json()["results"]
        assert [row["evidence"][0]["limit"] for row in asked] == [0.4]
        assert len(ask(scene, "designs/?limit=1").json()["results"]) == 1
        paged = ask(scene, "designs/?kind=insertion_loss&limit=0.4&page_size=1").json()
        assert len(paged["results"]) == 1 and paged["next"]
        assert scene.ask("owner", "GET", "designs/?limit=0.4").status_code == 400
        assert scene.ask("owner", "GET", "designs/?limit=201").status_code == 400

    def test_order_by_loss(self, scene, unun):
        better = ratio_benches.evidence(PEOPLE, loss_ohm=3000.0, match=False, turns=16)
        releases.make_release()
        rows = ask(scene, "designs/?order=loss&ratio=49:1").json()["results"]
        assert [row["id"] for row in rows] == [better, unun]


class TestCurves:
    def test_loss_is_split_and_heat_follows(self, scene, unun):
        told = ask(scene, f"designs/{unun}/curves/").json()
        assert told["kind"] == "insertion_loss" and "rejection_db" not in told
        columns = ("loss_db", "dissipative_db", "mismatch_db", "heat_w_per_100_w")
        loss, heat_db, mismatch, watts = (np.array(told[name]["median"], dtype=float) for name in columns)
        known = np.isfinite(loss)
        assert known.sum() > 40
        assert loss[known] == pytest.approx((heat_db + mismatch)[known], abs=1e-4)
        # the textbook's share of a power that a loss in decibels takes
        assert watts[known] == pytest.approx(100 * (1 - 10 ** (-heat_db[known] / 10)), abs=1e-2)
        assert told["loss_db"]["p10"] is None  # of six people

    def test_touchstone_is_a_two_port_with_the_ratio_of_the_design(self, scene, unun):
        path = f"designs/{unun}/curves/"
        told = ask(scene, path).json()
        reply = ask(scene, f"{path}?format=touchstone")
        text = reply.content.decode("ascii")
        option = next(line for line in text.splitlines() if line.startswith("#"))
        assert option == "# Hz S RI R 50.0 2450.0" and "no power" not in text.split("#")[1]
        assert "nothing about power" in text
        file = io.StringIO(text)
        file.name = "reply.s2p"
        read = skrf.Network(file)
        at = [index for index, value in enumerate(told["loss_db"]["median"]) if value is not None]
        loss, heat_db = (
            np.array(told[name]["median"], dtype=float)[at] for name in ("loss_db", "dissipative_db")
        )
        assert -20 * np.log10(np.abs(read.s[:, 1, 0])) == pytest.approx(loss, abs=1e-6)
        for port in (0, 1):  # what neither comes back nor gets through is the heat, whichever side is driven
            power = (np.abs(read.s[:, :, port]) ** 2).sum(axis=1)
            through = np.abs(read.s[:, 1 - port, port]) ** 2
            entered = 1 - np.abs(read.s[:, port, port]) ** 2
            assert (power <= 1 + 1e-9).all()
            assert -10 * np.log10(through / entered) == pytest.approx(heat_db, abs=1e-4)

    def test_a_match_makes_no_two_port(self, scene, unun):
        reply = scene.ask("owner", "GET", f"designs/{unun}/curves/?kind=load_match&format=touchstone")
        assert reply.status_code == 404 and reply.json()["code"] == "curves.no_two_port"
        told = ask(scene, f"designs/{unun}/curves/?kind=load_match").json()
        assert min(value for value in told["swr"]["median"] if value is not None) >= 1.0

    @pytest.mark.parametrize(
        ("kind", "words"), [("insertion_loss", "no power rating"), ("load_match", "SWR")]
    )
    def test_charts(self, scene, unun, kind, words):
        spec = ask(scene, f"designs/{unun}/chart/?kind={kind}").json()
        assert words in spec["description"]


def test_a_choke_still_answers_by_rejection(scene):
    (row,) = ask(scene, f"designs/{scene.popular}/evidence/?band=40m").json()["results"]
    assert (row["kind"], row["limit"]) == ("common_mode", None) and row["benchmark_db"] == 20.0
