"""Loss and match leave in steps alone, in every form: nobody reads one device's figure of a few."""

from __future__ import annotations

import csv
import io

import pytest
from django.test import Client

from measurements.services.releases import releases
from tests import factories, ratio_benches
from tests.pages.conftest import signed_in

# trade page, section 8: under ten people
STEPS = {"insertion_loss": ("loss_db", 0.1), "load_match": ("swr", 0.05)}


@pytest.fixture
def unun(reference_data) -> str:
    """A 49:1 unun that four people measured: members see it, the public does not."""
    key = ratio_benches.evidence(4)
    releases.make_release()
    return key


def is_step(value: float, step: float) -> bool:
    return abs(value / step - round(value / step)) < 1e-6


def test_figures_curves_charts_and_files_hold_steps_alone(unun, settings):
    settings.BENCHNIGHT_TOKEN_PER_MINUTE = settings.BENCHNIGHT_DRAWINGS_PER_MINUTE = 1_000_000
    client = signed_in(factories.member("attacker"))
    lines = b"".join(client.get("/api/v1/evidence/?format=csv").streaming_content).decode()
    rows = list(csv.DictReader(io.StringIO(lines)))
    for kind, (metric, step) in STEPS.items():
        told = client.get(f"/api/v1/designs/{unun}/evidence/?kind={kind}").json()["results"]
        shown = [row[metric]["median"] for row in told if row[metric]["median"] is not None]
        assert len(shown) > 5
        shown += [float(row[f"{metric}.median"]) for row in rows if row["kind"] == kind]
        # a share, a percentile or an exact chance would be finer
        for row in told:
            assert {row[name] for name in ("passing", "share", "share_low")} == {None}
            assert all(row[metric][name] is None for name in ("p10", "p90", "tolerance_high", "histogram"))
            assert row["chance"] is None or is_step(row["chance"], 0.1)
        curves = client.get(f"/api/v1/designs/{unun}/curves/?kind={kind}").json()
        for name in ("loss_db", "dissipative_db", "mismatch_db") if kind == "insertion_loss" else ("swr",):
            assert curves[name]["p10"] is None
            shown += [value for value in curves[name]["median"] if value is not None]
        chart = client.get(f"/api/v1/designs/{unun}/chart/?kind={kind}").json()
        drawn = [
            row[column]
            for rows_drawn in chart["datasets"].values()
            for row in rows_drawn
            for column in ("median", "mismatch", "heat")
            if row.get(column) is not None and "limit" not in row
        ]
        assert drawn
        # the panel of heat is in watts, which follow from the tenths of a decibel
        shown += [value for value in drawn if value < 5] if kind == "load_match" else []
        assert [value for value in shown if not is_step(value, step)] == []


def test_the_public_sees_nothing_of_four(unun):
    client = Client()
    for kind in STEPS:
        told = client.get(f"/api/v1/designs/{unun}/evidence/?kind={kind}").json()["results"]
        assert {row["verdict"] for row in told} == {"not_enough_devices"}
        assert {row["devices"] for row in told} == {None}
        assert client.get(f"/api/v1/designs/{unun}/curves/?kind={kind}").status_code == 404
        assert client.get(f"/api/v1/designs/{unun}/chart/?kind={kind}").status_code == 404
    assert unun not in b"".join(client.get("/api/v1/evidence/?format=csv").streaming_content).decode()
    page = client.get(f"/designs/{unun}/").content.decode()
    assert "Not enough people have tested devices of this design" in page and "median" not in page


def test_a_private_test_has_no_vote(unun):
    """Three people who keep their loss private join nothing."""
    for person in range(30, 33):
        by = factories.member(f"winder-{person}")
        made = factories.device(by, unun, tag=f"own-{person}")
        ratio_benches.record_loss(by, made, private="true")
    releases.make_release()
    client = signed_in(factories.member("attacker"))
    told = client.get(f"/api/v1/designs/{unun}/evidence/?band=40m").json()["results"]
    assert told[0]["contributors"] == 4
