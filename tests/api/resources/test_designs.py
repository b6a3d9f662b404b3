"""Designs: found, registered once, and shown as far as a reader's circle goes."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import numpy as np
import pytest
import skrf

from tests import factories

DETAIL_NULLS = ("passing", "share", "share_low", "share_high")
QUANTITIES = ("rejection_db", "resistance_ohm", "reactance_ohm", "impedance_ohm")
FIVE_DIGITS = 5e-5  # the most that rounding to five digits moves a figure, of itself
FIVE_DIGITS_DB = 20 * np.log10(1 + FIVE_DIGITS)


class TestFinding:
    def test_the_best_supported_comes_first(self, scene):
        found = scene.ask("owner", "GET", "designs/?band=40m").json()
        assert [row["id"] for row in found["results"]] == [scene.popular, scene.rare]
        assert found["next"] is None

    @pytest.mark.parametrize(
        ("words", "count"),
        [
            ("turns_min=8", 1),
            ("turns_max=8", 1),
            ("turns_min=8&turns_max=8", 0),
            ("ratio=1:1&purpose=choke&principle=current&mix=31&style=coax", 2),
            ("ratio=4:1", 0),
            ("band=40m&verdict=typically_meets", 1),
            ("band=40m&verdict=not_enough_devices", 1),
            ("core=26318", 2),
        ],
    )
    def test_filters(self, scene, words, count):
        assert len(scene.ask("owner", "GET", f"designs/?{words}").json()["results"]) == count

    def test_bands_asked_together_are_judged_jointly(self, scene):
        row = scene.ask("owner", "GET", "designs/?band=40m&band=20m").json()["results"][0]
        assert [each["band"] for each in row["evidence"]] == ["40m", "20m"]
        assert row["joint"]["band"] is None and row["joint"]["devices"] == 6

    def test_one_band_has_no_joint_verdict(self, scene):
        row = scene.ask("owner", "GET", "designs/?band=40m").json()["results"][0]
        assert row["joint"] is None and row["own_devices"] == 1

    def test_as_a_table(self, scene):
        text = scene.ask("owner", "GET", "designs/?band=40m&format=csv").content.decode()
        rows = list(csv.DictReader(io.StringIO(text)))
        assert [row["id"] for row in rows] == [scene.popular, scene.rare]
        assert rows[0]["recipe.winding.turns"] == "12"
        assert json.loads(rows[0]["evidence"])[0]["band"] == "40m"

    def test_as_lines(self, scene):
        text = scene.ask(
            "owner", "GET", "designs/", headers={"Accept": "application/x-ndjson"}
        ).content.decode()
        assert [json.loads(line)["id"] for line in text.splitlines()] == [scene.popular, scene.rare]


class TestCircles:
    def test_members_see_exact_counts_and_a_median_in_whole_decibels(self, scene):
        row = scene.ask("stranger", "GET", f"designs/{scene.popular}/evidence/?band=40m").json()["results"][0]
        assert (row["devices"], row["contributors"], row["kind"]) == (6, 6, "common_mode")
        assert all(row[name] is None for name in DETAIL_NULLS)
        assert row["rejection_db"].pop("median") % 1 == 0
        assert set(row["rejection_db"].values()) == {None}

    def test_the_public_sees_ranges_and_steps(self, scene):
        row = scene.ask("anonymous", "GET", f"designs/{scene.popular}/evidence/?band=40m").json()["results"][
            0
        ]
        assert row["devices"] == "5-9" and row["verdict"] == "typically_meets"
        assert all(row[name] is None for name in DETAIL_NULLS)
        assert row["rejection_db"]["median"] % 1 == 0
        assert row["rejection_db"]["p10"] is None and row["rejection_db"]["p90"] is None

    @pytest.mark.parametrize("role", ["anonymous", "owner", "steward"])
    def test_too_few_contributors_show_nothing_to_anybody(self, scene, role):
        for row in scene.ask(role, "GET", f"designs/{scene.rare}/evidence/").json()["results"]:
            assert row["verdict"] == "not_enough_devices"
            assert row["devices"] is None and row["rejection_db"]["median"] is None

    def test_the_benchmark_asked_for_is_named(self, scene):
        path = f"designs/{scene.popular}/evidence/?band=40m&benchmark_db=40"
        row = scene.ask("owner", "GET", path).json()["results"][0]
        assert row["benchmark_db"] == 40 and row["verdict"] is None
        assert "10 people" in row["reason"]

    def test_all_bands_of_the_plan_by_default(self, scene):
        plan = [row["band"] for row in scene.ask("anonymous", "GET", "bands/").json()["results"]]
        rows = scene.ask("anonymous", "GET", f"designs/{scene.popular}/evidence/").json()["results"]
        assert [row["band"] for row in rows] == plan


class TestRegistering:
    def test_a_new_recipe_and_the_same_again(self, scene):
        first = scene.ask("stranger", "POST", "designs/", json=factories.recipe(turns=5))
        again = scene.ask("owner", "POST", "designs/", json=factories.recipe(turns=5))
        assert (first.status_code, again.status_code) == (201, 200)
        assert first.json()["id"] == again.json()["id"]
        assert first["Location"] == f"http://testserver/api/v1/designs/{first.json()['id']}/"
        assert scene.ask("anonymous", "GET", first["Location"].removeprefix("http://testserver")).json() == (
            {**first.json(), "own_devices": 0}
        )

    def test_equal_builds_meet_in_other_words(self, scene):
        sent = {
            "winding": {"style": "COAX", "turns": "12", "conductor": "other"},
            "cores": [
                {"mix": "#31", "height_mm": 12.7, "outer_mm": "2.4 in", "inner_mm": 35.6, "shape": "Toroid"}
            ],
            "ratio": "1:1",
            "purpose": "choke",
        }
        reply = scene.ask("owner", "POST", "designs/", json=sent)
        assert reply.status_code == 200 and reply.json()["id"] == scene.popular


class TestCurves:
    @pytest.mark.parametrize(("role", "devices"), [("stranger", 6), ("anonymous", "5-9")])
    def test_below_ten_people_there_is_a_median_in_whole_decibels(self, scene, role, devices):
        curves = scene.ask(role, "GET", f"designs/{scene.popular}/curves/").json()
        assert curves["devices"] == devices and "samples" not in curves
        shown = [value for value in curves["rejection_db"]["median"] if value is not None]
        assert shown and all(value % 1 == 0 for value in shown)
        assert {curves[name][part] for name in QUANTITIES for part in ("p10", "p90")} == {None}

    def test_members_and_the_public_see_the_same_curve(self, scene):
        members, public = (
            scene.ask(role, "GET", f"designs/{scene.popular}/curves/").json()
            for role in ("stranger", "anonymous")
        )
        assert {**members, "devices": ""} == {**public, "devices": ""}

    def test_the_impedances_show_the_rejection_beside_them(self, scene):
        """Rejection of a series impedance: 20 log10 |1 + Z/100| (C. Parker, Conformity, June 2008, p. 57)."""
        curves = scene.ask("owner", "GET", f"designs/{scene.popular}/curves/").json()
        columns = [curves[name]["median"] for name in QUANTITIES]
        known = np.array([row for row in zip(*columns, strict=True) if None not in row])
        db, r_ohm, x_ohm, size_ohm = known.T
        # replies carry five digits: R and X are off by up to 5e-5 of themselves, and |1 + Z/100| by no more
        assert 20 * np.log10(abs(1 + (r_ohm + 1j * x_ohm) / 100)) == pytest.approx(db, abs=FIVE_DIGITS_DB)
        assert np.hypot(r_ohm, x_ohm) == pytest.approx(size_ohm, rel=2 * FIVE_DIGITS)

    @pytest.mark.parametrize("part", ["curves/", "chart/", "chart/?format=svg"])
    @pytest.mark.parametrize("role", ["anonymous", "owner", "steward"])
    def test_too_few_contributors_have_none(self, scene, role, part):
        assert scene.ask(role, "GET", f"designs/{scene.rare}/{part}").status_code == 404

    def test_as_a_table_of_what_may_be_seen(self, scene):
        path = f"designs/{scene.popular}/curves/?format=csv"
        public = scene.ask("anonymous", "GET", path).content.decode().splitlines()
        members = scene.ask("owner", "GET", path).content.decode().splitlines()
        assert public == members
        assert public[0] == (
            "freq_hz,rejection_db.median,resistance_ohm.median,reactance_ohm.median,impedance_ohm.median"
        )
        assert len(public) == len(members) > 50

    def test_a_percentile_is_not_to_be_had_below_ten_people(self, scene):
        reply = scene.ask("owner", "GET", f"designs/{scene.popular}/curves/?format=touchstone&curve=p10")
        assert (reply.status_code, reply.json()["code"]) == (404, "curves.not_shown")

    @pytest.mark.parametrize("curve", ["median"])
    def test_touchstone_is_a_series_impedance(self, scene, tmp_path, curve):
        """scikit-rf reads the file; S21 of a series Z between 50 ohm is 100/(100 + Z), S11 is Z/(100 + Z).

        The file keeps all digits of the impedance behind the whole decibels; the reply rounds to five.
        """
        curves = scene.ask("owner", "GET", f"designs/{scene.popular}/curves/").json()
        reply = scene.ask("owner", "GET", f"designs/{scene.popular}/curves/?format=touchstone&curve={curve}")
        (tmp_path / "curve.s2p").write_bytes(reply.content)
        network = skrf.Network(str(tmp_path / "curve.s2p"))
        resistance, reactance = curves["resistance_ohm"][curve], curves["reactance_ohm"][curve]
        rejection_db = curves["rejection_db"][curve]
        known = [
            row
            for row in zip(curves["freq_hz"], resistance, reactance, rejection_db, strict=True)
            if row[1] is not None
        ]
        assert len(network.f) == len(known)
        for index, (freq_hz, r_ohm, x_ohm, db) in enumerate(known):
            s11, s21 = network.s[index, 0, 0], network.s[index, 1, 0]
            z_ohm = 100 * (1 - s21) / s21
            assert network.f[index] == pytest.approx(freq_hz)
            assert s11 == pytest.approx(z_ohm / (100 + z_ohm), rel=1e-9)
            assert -20 * np.log10(abs(s21)) == pytest.approx(db, abs=1e-6)
            assert z_ohm.real == pytest.approx(r_ohm, rel=FIVE_DIGITS, abs=1e-5)
            assert z_ohm.imag == pytest.approx(x_ohm, rel=FIVE_DIGITS, abs=1e-5)


class TestChart:
    def test_three_forms(self, scene):
        path = f"designs/{scene.popular}/chart/"
        assert "vega-lite" in scene.ask("owner", "GET", path).json()["$schema"]
        svg = scene.ask("owner", "GET", f"{path}?format=svg")
        png = scene.ask("owner", "GET", f"{path}?format=png")
        assert svg.content.startswith(b"<svg") and svg["Content-Type"].startswith("image/svg+xml")
        assert png.content.startswith(b"\x89PNG") and png["Content-Type"] == "image/png"
        assert "sandbox" in svg["Content-Security-Policy"]

    def test_the_scale_of_the_frequency_axis_is_asked_for(self, scene):
        path = f"designs/{scene.popular}/chart/"
        for scale in ("log", "linear"):
            axes = [
                layer["encoding"]["x"]["scale"]["type"]
                for view in scene.ask("owner", "GET", f"{path}?scale={scale}").json()["vconcat"]
                for layer in view["layer"]
                if "x" in layer["encoding"]
            ]
            assert set(axes) == {scale}
        svg = [
            scene.ask("owner", "GET", f"{path}?format=svg&scale={scale}").content
            for scale in ("log", "linear")
        ]
        assert svg[0] != svg[1]
        assert scene.ask("owner", "GET", f"{path}?scale=cubic").status_code == 400
        assert '"linear"' in json.dumps(
            scene.ask("owner", "GET", f"tests/{scene.test}/chart/?scale=linear").json()
        )

    def test_the_chart_holds_the_shown_curve_and_nothing_of_a_single_device(self, scene):
        for role in ("anonymous", "owner"):
            chart = scene.ask(role, "GET", f"designs/{scene.popular}/chart/").json()
            drawn = [row for row in rows_of(chart) if "median" in row]
            assert drawn and all(set(row) == {"f", "median"} for row in drawn)
            assert all(row["median"] % 1 == 0 for row in drawn if row["median"] is not None)


def rows_of(specification: dict[str, Any]) -> list[dict[str, Any]]:
    """Every row of data of a Vega-Lite specification."""
    return [row for rows in specification["datasets"].values() for row in rows]
