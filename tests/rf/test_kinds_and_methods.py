"""The kinds and methods through the one entry point: results that JSON can carry, a flag for every null."""

from __future__ import annotations

import json
from fractions import Fraction

import numpy as np
import pytest

from measurements.rf.analysis import analyse
from measurements.rf.request import Request
from measurements.rf.sweeps.sweep import Sweep
from tests.rf.kinds.test_balance import balun, two_by_two
from tests.rf.method_requests import flat
from tests.rf.transformer_simulation import (
    BANDS,
    FREQ_HZ,
    ONE_WAY,
    ended,
    pair,
    poor,
    swept,
    true_loss_db,
    worst_in_bands,
)


def result_of(kind, ratio=1, method=None, **given):
    sweeps = {role: value for role, value in given.items() if isinstance(value, Sweep)}
    rest = {name: value for name, value in given.items() if name not in sweeps}
    asked = Request(kind, method, Fraction(ratio), sweeps, bands=BANDS, calibrated=True, **rest)
    result = analyse(asked).result
    json.dumps(result, allow_nan=False)
    return result


def codes(result):
    return {flag["code"] for flag in result["flags"]}


def test_one_port_reports_the_true_worst_of_every_band():
    design = poor(4)
    ends = {"far_open": "open", "far_short": "short", "far_load": 200.0}
    sweeps = {role: swept(ended(design, end), np.random.default_rng(1)) for role, end in ends.items()}
    result = result_of("insertion_loss", 4, load_ohm=200.0, **sweeps)
    assert result["method"] == "one_port"
    found = [band["loss_db"]["worst"] for band in result["bands"]]
    assert np.abs(found - worst_in_bands(true_loss_db(design))).max() < 0.05
    assert all(0.04 < band["uncertainty_db"]["worst"] < 0.2 for band in result["bands"])
    assert "local quadratic" in result["summary"]["assumption"]


def test_back_to_back_reports_the_mirror_and_the_halved_reading():
    design = poor(9)
    both = swept(pair(design, design), np.random.default_rng(2), ONE_WAY)
    result = result_of("insertion_loss", 9, "back_to_back", sweep=both)
    truth = worst_in_bands(true_loss_db(design))
    assert np.abs([band["loss_db"]["worst"] for band in result["bands"]] - truth).max() < 0.03
    assert result["bands"][0]["halved_db"]["worst"] - truth[0] > 0.4
    assert "split alike" in result["summary"]["assumption"]


@pytest.mark.parametrize(
    ("method", "sweeps"),
    [
        ("one_port", {"far_open": flat([1]), "far_short": flat([1]), "far_load": flat([1])}),
        ("back_to_back", {"sweep": flat([1, 0], [0, 1])}),
        ("series_resistor", {"sweep": flat([1, 0], [0, 1])}),
    ],
)
def test_what_has_no_answer_is_null_with_a_flag(method, sweeps):
    result = result_of("insertion_loss", 4, method, **sweeps)
    assert {band["loss_db"]["worst"] for band in result["bands"]} == {None}
    assert {band["meets"] for band in result["bands"]} == {None}
    assert "undefined_points" in codes(result)
    assert len([flag for flag in result["flags"] if flag["code"] == "undefined_points"]) == 1


def test_an_ideal_transformer_is_a_plain_zero():
    result = result_of(
        "insertion_loss", 4, far_open=flat([1]), far_short=flat([-1]), far_load=flat([0]), load_ohm=200.0
    )
    assert {band["loss_db"]["worst"] for band in result["bands"]} == {0.0}


def test_balance_of_three_sweeps_and_of_one():
    network = balun(4)
    direct = result_of("balance", 4, sweep=swept(network))
    pieces = result_of("balance", 4, **two_by_two(network))
    for one, other in zip(direct["bands"], pieces["bands"], strict=True):
        for name in ("amplitude_imbalance_db", "phase_imbalance_deg", "cmrr_db", "loss_db"):
            for figure in ("worst", "centre", "best"):
                assert other[name][figure] == pytest.approx(one[name][figure], abs=1e-3)
        assert one["meets"] == other["meets"]
    assert direct["summary"]["amplitude_limit_db"] == 1.0
    assert direct["summary"]["phase_limit_deg"] == 10.0


def test_a_balun_seen_one_way_has_no_loss():
    one_way = {role: sweep.without(0, 1).without(1, 1) for role, sweep in two_by_two(balun(1)).items()}
    result = result_of("balance", 1, **one_way)
    assert {band["loss_db"]["worst"] for band in result["bands"]} == {None}
    assert "balance_no_loss" in codes(result)


def test_in_situ_with_a_band_half_covered():
    def reflecting(magnitude, stop_hz):
        freq_hz = FREQ_HZ[stop_hz >= FREQ_HZ]
        s = np.full((len(freq_hz), 1, 1), magnitude, complex)
        return Sweep(freq_hz, s, np.array([50.0]), np.ones((1, 1), bool))

    result = result_of(
        "in_situ", sweep=reflecting(0.99, 14.2e6), sweep_bypassed=reflecting(0.1, 30e6),
        antenna_bands=tuple(band.name for band in BANDS),
    )  # fmt: skip
    by_name = {band["band"]: band for band in result["bands"]}
    assert by_name["40m"]["finding"] == "device_makes_it_worse"
    assert by_name["20m"]["finding"] == "inconclusive"
    assert by_name["20m"]["meets"] is None
    assert "partial_band" in codes(result)
    assert result["summary"]["finding"] == "device_makes_it_worse"


def test_total_reflection_is_null_and_flagged():
    fine = {"freq_hz": tuple(np.linspace(1e6, 30e6, 201))}
    result = result_of(
        "in_situ", sweep=flat([1], **fine), sweep_bypassed=flat([0.1], **fine),
        antenna_bands=tuple(band.name for band in BANDS),
    )  # fmt: skip
    assert {band["swr_through"]["worst"] for band in result["bands"]} == {None}
    assert {band["meets"] for band in result["bands"]} == {None}
    assert "undefined_points" in codes(result)
