"""Impossible figures are never judged, and every judged figure carries U and a decision."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from measurements.rf.analyser import Analyser
from measurements.rf.analysis import analyse
from measurements.rf.request import LossCurve, Request
from tests.rf import benches
from tests.rf.certainty import simulated_devices as devices
from tests.rf.certainty.simulated_analysers import CLASSES
from tests.rf.certainty.simulated_analysers import Analyser as Bench
from tests.rf.certainty.simulated_tests import BANDS, Cell, run_test

GOOD = devices.Transformer(4, 12e-6, 2500.0, 60e-9, 15e-12, 0.1)


def bench(seed: int = 1, kind: str = "two-path 40 dB") -> Bench:
    return Bench(np.random.default_rng(seed), CLASSES[kind], 0.0, 0.001)


def result_of(request: Request) -> dict:
    return analyse(replace(request, bands=BANDS, calibrated=True)).result


def loss_request(method: str | None, ratio: int = 4, **sweeps) -> Request:
    return Request("insertion_loss", method, Fraction(ratio), sweeps)


def far_sides(device, at: Bench, load_ohm: float) -> dict:
    ends = {"far_open": "open", "far_short": "short", "far_load": load_ohm}
    return {role: at.reflect(devices.input_reflection(device.abcd(), end)) for role, end in ends.items()}


def assert_not_judged(result: dict) -> None:
    assert {(band["meets"], band["decision"]) for band in result["bands"]} == {(None, "not_judged")}
    assert "impossible_gain" in {flag["code"] for flag in result["flags"]}


@pytest.mark.parametrize("kind", CLASSES)
def test_a_forgotten_series_resistor(kind):
    # seen: loss -4.06 dB "meets", heat -298 W of 100 W
    sweep = bench(kind=kind).transmit(devices.to_s(GOOD.abcd()))
    result = result_of(replace(loss_request("series_resistor", sweep=sweep), series_ohm=150.0))
    assert result["bands"][0]["loss_db"]["worst"] < -2
    assert_not_judged(result)


def test_open_and_load_swapped():
    # seen: "Meets on all 10 bands" at -5.89 dB
    sweeps = far_sides(GOOD, bench(), 200.0)
    sweeps["far_open"], sweeps["far_load"] = sweeps["far_load"], sweeps["far_open"]
    assert_not_judged(result_of(replace(loss_request("one_port", **sweeps), load_ohm=200.0)))


def test_a_pair_of_other_devices():
    # seen: -2.1 dB, meets
    at = bench()
    lossy = devices.Transformer(4, 2e-6, 150.0, 400e-9, 60e-12, 3.0)
    fine = GOOD.abcd()

    def pair(one, other):
        return at.transmit(devices.to_s(one @ devices.reverse(other)))

    sweeps = {
        "pair_ab": pair(fine, fine),
        "pair_ac": pair(fine, fine),
        "pair_bc": pair(lossy.abcd(), lossy.abcd()),
    }
    assert_not_judged(result_of(loss_request("pairs", **sweeps)))


def test_a_partner_whose_loss_is_stored_wrongly():
    # seen: -0.9 dB, meets
    sweep = bench().transmit(devices.to_s(GOOD.abcd() @ devices.reverse(GOOD.abcd())))
    stored = LossCurve(
        devices.FREQ_HZ,
        devices.true_loss_db(GOOD) + 1.5,
        "stored",
        mismatch_db=np.full(devices.FREQ_HZ.shape, 0.01),
        uncertainty_db=np.full(devices.FREQ_HZ.shape, 0.1),
    )
    assert_not_judged(result_of(replace(loss_request("known_partner", sweep=sweep), partner=stored)))


@pytest.mark.parametrize("drift_db", [0.0, 0.05, 0.1])
def test_honest_benches_stay_in(drift_db):
    # at most one in a hundred of honest tests may be called impossible
    rng = np.random.default_rng(7)
    condemned = 0
    for index in range(200):
        method = ("direct", "series_resistor", "one_port", "back_to_back")[index % 4]
        cell = Cell(method, 1 if method == "direct" else 4, list(CLASSES)[index % 3], 1.0, drift_db, False)
        condemned += "impossible" in " ".join(run_test(rng, cell).codes)
    assert condemned <= 2


def test_a_poor_analyser_does_not_pass_a_49_to_1():
    # seen: three bands pass at 0.10 to 0.25 dB with an uncertainty of 1.3 dB (truth 0.6, limit 0.5)
    rng = np.random.default_rng(3)
    found = [run_test(rng, Cell("renormalised", 49, "two-path 40 dB", 1.0, 0.05, False)) for _ in range(30)]
    decisions = [decision for one in found for decision in one.decisions]
    assert decisions.count("meets") == 0
    assert decisions.count("too_close") > 40
    for one in found:
        for decision, truth_db in zip(one.decisions, one.truth.values(), strict=True):
            assert decision != "falls_short" or truth_db > 0.5


def test_too_close_says_so_and_names_the_method_that_decides():
    middling = devices.Transformer(4, 6e-6, 500.0, 100e-9, 20e-12, 0.3)
    sweep = bench(kind="one-path 20 dB").transmit(
        devices.to_s(middling.abcd() @ devices.series(np.full(devices.FREQ_HZ.shape, 150.0)))
    )
    result = result_of(replace(loss_request("series_resistor", sweep=sweep), series_ohm=150.2))
    assert {band["decision"] for band in result["bands"]} == {"too_close"}
    assert {band["meets"] for band in result["bands"]} == {None}
    advice = next(flag["message"] for flag in result["flags"] if flag["code"] == "uncertainty_large")
    assert "jig_through" in advice and "one_port" in advice
    sweeps = far_sides(GOOD, bench(kind="one-path 20 dB"), 200.0)
    decided = result_of(replace(loss_request("one_port", **sweeps), load_ohm=200.2))
    assert {band["decision"] for band in decided["bands"][:3]} == {"meets"}


@pytest.mark.parametrize(
    ("loss_db", "decision"), [(0.2, "meets"), (0.45, "too_close"), (0.55, "too_close"), (0.9, "falls_short")]
)
def test_the_guard_band_decides(loss_db, decision):
    # JCGM 106:2012: inside by U or more, beyond by U or more, or neither
    s = np.zeros((len(devices.FREQ_HZ), 2, 2), complex)
    s[:, 1, 0] = s[:, 0, 1] = 10 ** (-loss_db / 20)
    sweep = benches.two_port(devices.FREQ_HZ, s)
    described = Analyser(paths=2, drift_db=0.05, noise=0.001)
    result = result_of(replace(loss_request("direct", 1, sweep=sweep), analyser=described))
    for band in result["bands"]:
        assert band["decision"] == decision
        inside = 0.5 - band["loss_db"]["worst"]
        assert (abs(inside) >= band["uncertainty"]["loss_db"]) is (decision != "too_close")
        assert band["uncertainty_db"]["worst"] == band["uncertainty"]["loss_db"]


def test_a_band_that_is_left_out_carries_no_verdict():
    sweep = bench().transmit(devices.to_s(devices.series(0.0)))
    uncalibrated = replace(loss_request("direct", 1, sweep=sweep), bands=BANDS, calibrated=False)
    found = analyse(uncalibrated).result
    assert {(band["meets"], band["decision"]) for band in found["bands"]} == {(None, "not_judged")}
    # a duplicate is no fault of the sweep
    again = analyse(replace(uncalibrated, calibrated=True, same_bytes=True)).result
    assert {band["decision"] for band in again["bands"]} == {"meets"}


def line(length_m: float, velocity: float = 0.66) -> np.ndarray:
    """A 50-ohm line, its loss left out (closed form)."""
    turn = devices.OMEGA * length_m / (velocity * 299792458.0)
    return devices.matrix(np.cos(turn), 50j * np.sin(turn), 1j * np.sin(turn) / 50, np.cos(turn))


def choke_result(abcd: np.ndarray, kind: str = "one-path 20 dB", **more) -> dict:
    sweep = bench(kind=kind).transmit(devices.to_s(abcd))
    return result_of(Request("common_mode", None, Fraction(1), {"sweep": sweep, **more}))


CHOKE = devices.draw_choke_ohm(np.random.default_rng(5), 24.0, 30.0)


def test_cable_left_in_makes_a_negative_resistance_that_is_not_judged():
    # seen: 2 m of cable left in, rejection looks fine, Re(Zcm) is -1,727 ohm, counted as evidence
    # inductive up to 30 MHz, as many turns on a small core
    inductive = 1 / (1 / (1j * devices.OMEGA * 20e-6) + 1 / 5000 + 1j * devices.OMEGA * 0.8e-12)
    assert "negative_resistance" not in str(choke_result(devices.series(inductive))["flags"])
    result = choke_result(devices.series(inductive) @ line(2.0))
    found = {flag["code"] for flag in result["flags"] if flag["severity"] == "exclude"}
    assert "negative_resistance" in found
    assert min(band["resistance_ohm"]["worst"] for band in result["bands"]) < -500
    assert {(band["meets"], band["decision"]) for band in result["bands"]} == {(None, "not_judged")}
    assert result["summary"]["meets_from_hz"] is None and result["summary"]["meets_to_hz"] is None


def test_gain_in_common_mode_is_not_judged():
    sweep = bench().transmit(devices.to_s(devices.series(CHOKE)))
    amplified = replace(sweep, s=sweep.s * np.array([[1, 60], [60, 1]]))
    result = result_of(Request("common_mode", None, Fraction(1), {"sweep": amplified}))
    assert "impossible_gain" in " ".join(flag["code"] for flag in result["flags"])
    assert "meets" not in {band["decision"] for band in result["bands"]}


@pytest.mark.parametrize("kind", CLASSES)
def test_a_choke_well_above_the_benchmark_is_decided(kind):
    result = choke_result(devices.series(CHOKE), kind)
    worst = devices.worst_by_band(devices.rejection_db(CHOKE), np.min)
    for band in result["bands"]:
        expected = band["uncertainty"]
        assert 0 < expected["rejection_db"] < 1.5
        assert expected["impedance_ohm"] > 0 and expected["resistance_ohm"] > 0
        inside = band["rejection_db"]["worst"] - 20.0
        decided = (
            "too_close"
            if abs(inside) < expected["rejection_db"]
            else "meets"
            if inside > 0
            else "falls_short"
        )
        assert band["decision"] == decided
        assert abs(band["rejection_db"]["worst"] - worst[band["band"]]) < 1.5


def test_the_through_makes_rejection_useful_on_one_path():
    # trade page, 6: near 20 dB U falls from 0.84 to 0.12 dB with the port-2 match out of the jig's through
    measured = Analyser(paths=1, drift_db=0.05, noise=0.0002)
    z = np.full(devices.FREQ_HZ.shape, 900.0 + 0j)
    at = Bench(np.random.default_rng(2), CLASSES["one-path 20 dB"], 0.0, 0.0)
    at.forward = replace(at.forward, load=0.09j)
    sweep = at.transmit(devices.to_s(devices.series(z)))
    through = at.transmit(devices.to_s(devices.series(0.0)))
    request = Request("common_mode", None, Fraction(1), {"sweep": sweep}, analyser=measured)
    plain = result_of(request)["bands"][1]
    corrected = result_of(replace(request, sweeps={"sweep": sweep, "jig_through": through}))["bands"][1]
    assert abs(plain["uncertainty"]["rejection_db"] - 0.84) < 0.08
    assert abs(corrected["uncertainty"]["rejection_db"] - 0.12) < 0.05
    assert abs(corrected["rejection_db"]["worst"] - 20.0) < corrected["uncertainty"]["rejection_db"]


def test_silence_is_no_doubt_about_a_choke():
    # nothing came through: no figure, and yet surely more than 20 dB; the flag says that it looks open
    s = np.zeros((len(devices.FREQ_HZ), 2, 2), complex)
    s[:, 0, 0] = s[:, 1, 1] = 1.0
    result = result_of(
        Request("common_mode", None, Fraction(1), {"sweep": benches.one_way(devices.FREQ_HZ, s)})
    )
    assert {band["rejection_db"]["worst"] for band in result["bands"]} == {None}
    assert {band["decision"] for band in result["bands"]} == {"not_judged"}
