"""GET predict/ratio/: loss and match of ratio devices, nothing stored."""

from __future__ import annotations

import pytest

from measurements.models import Test


def ask(scene, query: str, role: str = "stranger"):
    return scene.ask(role, "GET", f"predict/ratio/?{query}")


def test_proposals_are_ranked_with_intervals_of_loss_swr_and_heat(scene):
    before = Test.objects.count()
    found = ask(scene, "band=40m&band=20m&ratio=49:1&mix=43&mix=52&best_capacitor=true&limit=4").json()
    assert found["bands"] == ["40m", "20m"] and found["ratio"] == "49:1" and len(found["results"]) == 4
    for row in found["results"]:
        assert row["far_turns"] == 7 * row["near_turns"] and row["fits"]
        for band in row["bands"]:
            for name in ("loss_db", "swr", "dissipative_db", "heat_w_per_100_w"):
                assert band[name]["p10"] <= band[name]["median"] <= band[name]["p90"]
    assert found["passed_over"][0]["mix"] == "52"
    assert found["cautions"][0]["title"] == "No power rating"
    assert Test.objects.count() == before


def test_one_winding_with_its_capacitor(scene):
    found = ask(
        scene, "band=40m&ratio=49:1&core=5943003801&turns=3&stacked=2&capacitor_f=1e-10", "anonymous"
    ).json()
    (row,) = found["results"]
    assert (row["near_turns"], row["far_turns"], row["stacked"], row["compensation_f"]) == (3, 21, 2, 1e-10)


def test_a_band_that_the_table_does_not_cover_is_null_with_its_reason(scene):
    found = ask(scene, "band=630m&ratio=4:1&core=5961003801&turns=8&style=bifilar").json()
    (band,) = found["results"][0]["bands"]
    assert band["loss_db"] == {"p10": None, "median": None, "p90": None} and band["chance"] is None
    assert "table of mix 61 reaches from 1 to 101 MHz only" in band["why_not"]


def test_a_current_balun_has_a_core_for_each_line(scene):
    found = ask(
        scene, "band=40m&ratio=4:1&principle=current&style=bifilar&core=2631803802&turns=9&stacked=1"
    ).json()
    (row,) = found["results"]
    assert row["cores_in_all"] == 2


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("ratio=49:1", "band"),
        ("band=40m", "ratio"),
        ("band=40m&ratio=1000:1", "ratio"),
        ("band=41m&ratio=49:1", "band"),
        ("band=40m&ratio=49:1&style=coax", "style"),
        ("band=40m&ratio=49:1&capacitor_f=1", "capacitor_f"),
        ("band=40m&ratio=49:1&turns=2&core=nosuch", "core"),
    ],
)
def test_a_bad_request_names_its_field(scene, query: str, field: str):
    reply = ask(scene, query)
    assert reply.status_code in (400, 422)
    assert field in [error["field"] for error in reply.json()["errors"]]
