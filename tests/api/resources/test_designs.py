"""Designs: found, registered once, and shown as far as a reader's circle goes."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import pytest
import skrf

from tests import factories

PUBLIC_NULLS = ("passing", "share", "share_low", "share_high")


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
    def test_members_see_exact_figures(self, scene):
        row = scene.ask("stranger", "GET", f"designs/{scene.popular}/evidence/?band=40m").json()["results"][0]
        assert (row["devices"], row["contributors"], row["passing"]) == (6, 6, 6)
        assert row["rejection_db"]["p10"] <= row["rejection_db"]["median"] <= row["rejection_db"]["p90"]

    def test_the_public_sees_ranges_and_steps(self, scene):
        row = scene.ask("anonymous", "GET", f"designs/{scene.popular}/evidence/?band=40m").json()["results"][
            0
        ]
        assert row["devices"] == "5-9" and row["verdict"] == "typically_meets"
        assert all(row[name] is None for name in PUBLIC_NULLS)
        assert (row["rejection_db"]["median"] * 2) % 1 == 0
        assert row["rejection_db"]["p10"] is None and row["rejection_db"]["p90"] is None

    @pytest.mark.parametrize("role", ["anonymous", "owner", "steward"])
    def test_too_few_contributors_show_nothing_to_anybody(self, scene, role):
        for row in scene.ask(role, "GET", f"designs/{scene.rare}/evidence/").json()["results"]:
            assert row["verdict"] == "not_enough_devices"
            assert row["devices"] is None and row["rejection_db"]["median"] is None

    def test_the_benchmark_asked_for_is_named(self, scene):
        path = f"designs/{scene.popular}/evidence/?band=40m&benchmark_db=40"
        row = scene.ask("owner", "GET", path).json()["results"][0]
        assert row["benchmark_db"] == 40 and row["verdict"] == "typically_falls_short"

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
    def test_members_see_percentiles_and_samples(self, scene):
        curves = scene.ask("stranger", "GET", f"designs/{scene.popular}/curves/").json()
        assert curves["devices"] == 6 and len(curves["samples"]) == 6
        assert (
            len(curves["freq_hz"])
            == len(curves["rejection_db"]["p10"])
            == len(curves["resistance_ohm"]["median"])
        )

    def test_the_public_sees_the_median_of_rejection_in_steps(self, scene):
        curves = scene.ask("anonymous", "GET", f"designs/{scene.popular}/curves/").json()
        shown = [value for value in curves["rejection_db"]["median"] if value is not None]
        assert shown and all((value * 2) % 1 == 0 for value in shown)
        assert curves["rejection_db"]["p10"] is None and curves["resistance_ohm"]["median"] is None
        assert curves["samples"] == [] and curves["devices"] == "5-9"

    @pytest.mark.parametrize("part", ["curves/", "chart/", "chart/?format=svg"])
    @pytest.mark.parametrize("role", ["anonymous", "owner", "steward"])
    def test_too_few_contributors_have_none(self, scene, role, part):
        assert scene.ask(role, "GET", f"designs/{scene.rare}/{part}").status_code == 404

    def test_as_a_table_of_what_may_be_seen(self, scene):
        path = f"designs/{scene.popular}/curves/?format=csv"
        public = scene.ask("anonymous", "GET", path).content.decode().splitlines()
        members = scene.ask("owner", "GET", path).content.decode().splitlines()
        assert public[0] == "freq_hz,rejection_db.median"
        assert members[0].startswith(
            "freq_hz,rejection_db.median,rejection_db.p10,rejection_db.p90,resistance_ohm."
        )
        assert len(public) == len(members) > 50

    @pytest.mark.parametrize("curve", ["median", "p10", "p90"])
    def test_touchstone_is_a_series_impedance(self, scene, tmp_path, curve):
        """scikit-rf reads the file; S21 of a series Z between 50 ohm is 100/(100 + Z)."""
        curves = scene.ask("owner", "GET", f"designs/{scene.popular}/curves/").json()
        reply = scene.ask("owner", "GET", f"designs/{scene.popular}/curves/?format=touchstone&curve={curve}")
        (tmp_path / "curve.s2p").write_bytes(reply.content)
        network = skrf.Network(str(tmp_path / "curve.s2p"))
        resistance, reactance = curves["resistance_ohm"][curve], curves["reactance_ohm"][curve]
        known = [
            (f, complex(r, x))
            for f, r, x in zip(curves["freq_hz"], resistance, reactance, strict=True)
            if r is not None
        ]
        assert len(network.f) == len(known)
        for index, (freq_hz, z_ohm) in enumerate(known):
            assert network.f[index] == pytest.approx(freq_hz)
            assert network.s[index, 1, 0] == pytest.approx(100 / (100 + z_ohm), rel=1e-9)
            assert network.s[index, 0, 0] == pytest.approx(z_ohm / (100 + z_ohm), rel=1e-9)

    def test_touchstone_is_for_members(self, scene):
        reply = scene.ask("anonymous", "GET", f"designs/{scene.popular}/curves/?format=touchstone")
        assert (reply.status_code, reply.json()["code"]) == (403, "curves.members_only")


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

    def test_the_public_chart_holds_no_more_than_the_public_curves(self, scene):
        public = scene.ask("anonymous", "GET", f"designs/{scene.popular}/chart/").json()
        members = scene.ask("owner", "GET", f"designs/{scene.popular}/chart/").json()
        drawn = [row for row in rows_of(public) if "median" in row]
        assert drawn and all(set(row) == {"f", "median"} for row in drawn)
        assert all((row["median"] * 2) % 1 == 0 for row in drawn if row["median"] is not None)
        assert any({"p10", "p90"} <= set(row) for row in rows_of(members))
        assert any("s0" in row for row in rows_of(members)) and not any(
            "s0" in row for row in rows_of(public)
        )


def rows_of(specification: dict[str, Any]) -> list[dict[str, Any]]:
    """Every row of data of a Vega-Lite specification."""
    return [row for rows in specification["datasets"].values() for row in rows]
