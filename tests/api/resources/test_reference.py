"""Reference data and releases: public, sourced, in three forms."""

from __future__ import annotations

import csv
import io
import json

import pytest

from measurements.services.releases import releases

LISTS = ("bands", "benchmarks", "mixes", "cores", "conductors")


@pytest.mark.parametrize("name", LISTS)
def test_every_row_has_its_source_and_date(scene, name):
    rows = scene.ask("anonymous", "GET", f"{name}/").json()["results"]
    assert rows
    for row in rows:
        assert row["source"] and row["basis"] and row["as_of"]


@pytest.mark.parametrize("name", [*LISTS, "releases"])
def test_three_forms_hold_the_same_rows(scene, name):
    rows = scene.ask("anonymous", "GET", f"{name}/").json()["results"]
    lines = scene.ask("anonymous", "GET", f"{name}/?format=ndjson").content.decode().splitlines()
    assert [json.loads(line) for line in lines] == rows
    reply = scene.ask("anonymous", "GET", f"{name}/", headers={"Accept": "text/csv"})
    table = list(csv.DictReader(io.StringIO(reply.content.decode())))
    assert len(table) == len(rows) and list(table[0]) == list(rows[0])


def test_the_band_plan_of_a_region_on_a_day(scene):
    """In Region 1 the 40 m band ended at 7.1 MHz until 2009 (ITU Radio Regulations, WRC-03)."""
    rows = {
        region: {
            row["band"]: row
            for row in scene.ask("anonymous", "GET", f"bands/?region={region}").json()["results"]
        }
        for region in (1, 2, 3)
    }
    assert rows[2]["40m"]["stop_hz"] == 7.3e6 and rows[1]["40m"]["stop_hz"] == 7.2e6
    assert rows[1]["40m"]["region"] == 1


def test_a_mix_has_its_permeability_over_frequency(scene):
    mixes = scene.ask("anonymous", "GET", "mixes/").json()["results"]
    published = [mix for mix in mixes if mix["permeability"]]
    assert published
    assert set(published[0]["permeability"][0]) == {"frequency_hz", "mu_real", "mu_imaginary"}


class TestReleases:
    def test_a_release_by_its_number(self, scene):
        listed = scene.ask("anonymous", "GET", "releases/").json()["results"]
        one = scene.ask("anonymous", "GET", f"releases/{scene.release}/").json()
        assert listed[0] == one
        assert len(one["content_sha256"]) == 64 and one["made_at"].endswith("Z")
        assert one["thresholds"]["min_contributors"] == 3

    def test_an_older_one_keeps_its_files_and_never_changes(self, scene):
        before = scene.ask("anonymous", "GET", f"releases/{scene.release}/").json()
        newer = releases.make_release().number
        after = scene.ask("anonymous", "GET", f"releases/{scene.release}/").json()
        assert after == before and before["files"]
        assert scene.ask("anonymous", "GET", "releases/").json()["results"][0]["number"] == newer
