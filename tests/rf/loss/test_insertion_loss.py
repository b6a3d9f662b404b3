"""Insertion loss directly and by changed references, and how the method is chosen."""

from __future__ import annotations

import json
from fractions import Fraction

import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st

from measurements.errors import BenchnightError
from measurements.rf.analyser import UNDESCRIBED
from measurements.rf.analysis import Request, analyse
from measurements.rf.loss.direct import ratio_floor_db
from measurements.rf.loss.insertion_loss import choose_loss_method, heat_w_per_100_w
from measurements.rf.networks import two_port
from measurements.rf.request import Limits, LossCurve
from tests.rf import benches
from tests.rf.benches import band, codes
from tests.rf.method_requests import STEADY

FREQ = benches.linear_hz(201)


def analysis_of(sweep=None, **changes):
    sweeps = {**({"sweep": sweep} if sweep is not None else {}), **changes.pop("more", {})}
    request = Request(
        "insertion_loss",
        sweeps=sweeps,
        bands=benches.BANDS,
        **{"calibrated": True, "analyser": STEADY, **changes},
    )
    analysis = analyse(request)
    json.dumps(analysis.result, allow_nan=False)
    return analysis


def constant(s11, s21, s12=None, s22=None):
    s = np.empty((201, 2, 2), complex)
    s[:, 0, 0], s[:, 1, 0] = s11, s21
    s[:, 0, 1] = s21 if s12 is None else s12
    s[:, 1, 1] = s11 if s22 is None else s22
    return s


def ideal(turns):
    """An ideal 1:n transformer between 50-ohm ports, closed form (computed independently)."""
    square = turns**2
    s11 = (1 - square) / (1 + square)
    return constant(s11, 2 * turns / (1 + square), s22=-s11)


@pytest.mark.parametrize(
    ("turns", "s11", "s21", "floor"),
    [(2, -0.6, 0.8, 1.9382), (3, -0.8, 0.6, 4.4370), (7, -0.96, 0.28, 11.0568)],
)
def test_ideal_transformers_read_their_ratio_directly_and_nothing_renormalised(turns, s11, s21, floor):
    s = ideal(turns)
    assert (s[0, 0, 0].real, s[0, 1, 0].real) == pytest.approx((s11, s21))
    ratio = Fraction(turns**2)
    assert ratio_floor_db(ratio) == pytest.approx(floor, abs=5e-5)
    direct = analysis_of(benches.one_way(FREQ, s), ratio=ratio).result
    assert direct["method"] == "direct"
    assert direct["summary"]["ratio_floor_db"] == pytest.approx(floor, abs=5e-5)
    assert band(direct, "20m")["loss_db"]["worst"] == pytest.approx(floor, abs=5e-5)
    assert all(found["meets"] is None for found in direct["bands"]) and "ratio_floor" in codes(direct)
    exact = analysis_of(benches.two_port(FREQ, s), ratio=ratio).result
    assert exact["method"] == "renormalised"
    got = band(exact, "20m")
    assert got["loss_db"]["worst"] == pytest.approx(0, abs=1e-12) and got["meets"] is True
    assert got["mismatch_db"]["worst"] == pytest.approx(0, abs=1e-12)
    assert exact["summary"]["ratio_floor_db"] is None


def test_a_through_renormalised_to_200_ohm():
    # Closed form (computed independently): +0.6, 0.8, -0.6. scikit-rf is 2e-8 off here.
    s = two_port.renormalise_s(constant(0, 1), (50, 50), (50, 200))
    assert s[0] == pytest.approx(np.array([[0.6, 0.8], [0.8, -0.6]]), abs=1e-15)
    result = analysis_of(benches.two_port(FREQ, constant(0, 1)), ratio=Fraction(4)).result
    assert band(result, "20m")["loss_db"]["worst"] == pytest.approx(1.9382, abs=5e-5)


def lossy_four_to_one():
    """5 ohm in series, 2000 ohm across, ideal 1:2, as a scikit-rf circuit in a 50-ohm system."""
    m = benches.medium(FREQ)
    front = m.resistor(5) ** m.shunt(m.resistor(2000) ** m.short())
    ideal_s = skrf.Network(frequency=front.frequency, s=ideal(2), z0=50)
    return (front**ideal_s).s


def test_lossy_four_to_one():
    # Computed independently, also by circuit: in 50/200 ohm S11 0.03642773, S21 0.94007051, S22 0.03407756;
    # loss 0.536791 = mismatch 0.005767 + dissipation 0.531025 dB; efficiency 0.884907.
    s = two_port.renormalise_s(lossy_four_to_one(), (50, 50), (50, 200))[0]
    assert s.real == pytest.approx(np.array([[0.03642773, 0.94007051], [0.94007051, 0.03407756]]), abs=2e-8)
    got = band(analysis_of(benches.two_port(FREQ, lossy_four_to_one()), ratio=Fraction(4)).result, "20m")
    assert got["loss_db"]["worst"] == pytest.approx(0.536791, abs=1e-6)
    assert got["mismatch_db"]["worst"] == pytest.approx(0.005767, abs=1e-6)
    assert got["dissipative_db"]["worst"] == pytest.approx(0.531025, abs=1e-6)
    assert 100 - got["heat_w_per_100_w"]["worst"] == pytest.approx(88.4907, abs=1e-4)
    assert got["meets"] is False and set(got["heat_w_per_100_w"]) == {"worst", "worst_hz"}


# L. Asbrink, 2013, Table 1 (sm5bsz.com): mismatch, insertion, dissipative dB of four devices.
PUBLISHED = [
    (0.16591, 0.1753, 0.0094),
    (0.00005, 0.0597, 0.0597),
    (0.00071, 0.0290, 0.0283),
    (0.00022, 0.0590, 0.0588),
]


@pytest.mark.parametrize(("mismatch", "insertion", "dissipative"), PUBLISHED)
def test_published_split_of_insertion_loss(mismatch, insertion, dissipative):
    s11, s21 = np.sqrt(1 - 10 ** (-mismatch / 10)), 10 ** (-insertion / 20)
    got = band(analysis_of(benches.one_way(FREQ, constant(s11, s21))).result, "20m")
    assert got["loss_db"]["worst"] == pytest.approx(insertion, abs=1e-9)
    assert got["mismatch_db"]["worst"] == pytest.approx(mismatch, abs=1e-9)
    assert got["dissipative_db"]["worst"] == pytest.approx(dissipative, abs=1.1e-4)
    assert got["meets"] is True


@pytest.mark.parametrize(("dissipative", "watts"), [(0.1, 9.1), (0.5, 43.5), (1.0, 82.3)])
def test_heat_at_400_watts(dissipative, watts):
    # Computed independently.
    assert 4 * heat_w_per_100_w(np.array([dissipative]))[0] == pytest.approx(watts, abs=0.06)


@pytest.mark.parametrize(
    ("return_loss", "mismatch"),
    [(1, 6.86825), (3, 3.02062), (6, 1.25628), (10, 0.45757), (20, 0.04365), (30, 0.00435)],
)
def test_mismatch_loss_of_a_return_loss(return_loss, mismatch):
    # Computed independently; the formula as at microwaves101.com (magnitude, not the complex square).
    s11 = 1j * np.array([10 ** (-return_loss / 20)])
    assert two_port.mismatch_db(s11)[0] == pytest.approx(mismatch, abs=6e-6)


def test_without_s11_there_is_no_split():
    sweep = benches.two_port(FREQ, constant(0, 0.97), [[0, 0], [1, 0]])
    result = analysis_of(sweep).result
    got = band(result, "20m")
    assert got["dissipative_db"]["worst"] is None and got["heat_w_per_100_w"]["worst"] is None
    assert "no_split" in codes(result)


def test_uncertainty_grows_with_what_the_device_reflects():
    unknown = {"analyser": UNDESCRIBED}
    matched = band(analysis_of(benches.one_way(FREQ, constant(0.01, 0.98)), **unknown).result, "20m")
    poor = band(analysis_of(benches.one_way(FREQ, constant(0.5, 0.8)), **unknown).result, "20m")
    assert 0 < matched["uncertainty_db"]["worst"] < poor["uncertainty_db"]["worst"] < 0.9


@pytest.mark.parametrize("seed", range(3))
def test_renormalised_stays_within_its_uncertainty_when_reflections_are_off(seed):
    s, rng = lossy_four_to_one(), np.random.default_rng(seed)
    moved = s.copy()
    for i in (0, 1):
        moved[:, i, i] += 0.01 * np.exp(2j * np.pi * rng.random())
    truth = band(analysis_of(benches.two_port(FREQ, s), ratio=Fraction(4)).result, "20m")
    found = analysis_of(benches.two_port(FREQ, moved), ratio=Fraction(4), analyser=UNDESCRIBED)
    got = band(found.result, "20m")
    off = abs(got["loss_db"]["worst"] - truth["loss_db"]["worst"])
    assert 0 < off <= got["uncertainty_db"]["worst"]


@given(st.integers(0, 2**31), st.floats(5, 500), st.floats(5, 500))
def test_changing_the_reference_there_and_back(seed, near, far):
    rng = np.random.default_rng(seed)
    s = (rng.normal(size=(4, 2, 2)) + 1j * rng.normal(size=(4, 2, 2))) * 0.2
    there = two_port.renormalise_s(s, (50, 50), (near, far))
    assert two_port.renormalise_s(there, (near, far), (50, 50)) == pytest.approx(s, abs=1e-9)


@given(st.integers(0, 2**31), st.floats(5, 500), st.floats(5, 500))
def test_a_passive_device_stays_passive_in_any_reference(seed, near, far):
    rng = np.random.default_rng(seed)
    s = rng.normal(size=(4, 2, 2)) + 1j * rng.normal(size=(4, 2, 2))
    s *= 0.99 / np.linalg.norm(s, 2, axis=(1, 2))[:, None, None]
    there = two_port.renormalise_s(s, (50, 50), (near, far))
    assert (np.linalg.norm(there, 2, axis=(1, 2)) <= 1 + 1e-9).all()


def test_nothing_transmitted_is_null_and_fails_nothing_silently():
    s = constant(0.9, 0.5)
    s[100:104, 1, 0] = 0
    at = FREQ[100] - 5e5, FREQ[103] + 5e5
    from measurements.rf.bands import Band

    request = Request(
        "insertion_loss", sweeps={"sweep": benches.one_way(FREQ, s)}, bands=(Band("x", *at),), calibrated=True
    )
    result = analyse(request).result
    assert result["bands"][0]["loss_db"]["worst"] is None and result["bands"][0]["meets"] is None
    assert "undefined_points" in codes(result)


def test_renormalised_needs_the_whole_two_port():
    with pytest.raises(BenchnightError) as caught:
        analysis_of(benches.one_way(FREQ, ideal(2)), ratio=Fraction(4), method="renormalised")
    assert caught.value.code == "insertion_loss.full_two_port"


def test_limit_of_another_house():
    sweep = benches.one_way(FREQ, constant(0, 10 ** (-0.4 / 20)))
    assert band(analysis_of(sweep).result, "20m")["meets"] is True
    strict = analysis_of(sweep, limits=Limits(loss_db=0.3)).result
    assert band(strict, "20m")["meets"] is False and strict["summary"]["loss_limit_db"] == 0.3


def test_through_of_the_jig_is_divided_out():
    m = benches.medium(FREQ)
    cable = m.line(0.5, "m", z0=50) ** m.attenuator(-0.3)
    device = m.attenuator(-0.25)
    gear = {"jig_through": benches.one_way(FREQ, cable.s)}
    result = analysis_of(benches.one_way(FREQ, (cable**device).s), more=gear).result
    assert band(result, "20m")["loss_db"]["worst"] == pytest.approx(0.25, abs=1e-6)
    assert result["summary"]["jig_normalised"] is True


FULL, ONE_WAY = benches.two_port(FREQ, ideal(2)), benches.one_way(FREQ, ideal(2))
PARTNER = LossCurve(FREQ, np.full(201, 0.2), "stored")
PAIRS = {f"pair_{name}": FULL for name in ("ab", "ac", "bc")}
FAR = {f"far_{name}": benches.one_port(FREQ, np.zeros(201)) for name in ("open", "short", "load")}


@pytest.mark.parametrize(
    ("sweeps", "more", "method"),
    [
        ({"sweep": ONE_WAY}, {}, "direct"),
        ({"sweep": FULL}, {}, "renormalised"),
        ({"sweep": FULL}, {"ratio": Fraction(1)}, "direct"),
        ({"sweep": ONE_WAY}, {"series_ohm": 150.0}, "series_resistor"),
        ({"sweep": FULL}, {"partner": PARTNER}, "known_partner"),
        (FAR, {}, "one_port"),
        ({"sweep": FULL, "far_load": FAR["far_load"]}, {}, "back_to_back"),
        ({"pair_ab": FULL}, {}, "back_to_back"),
        (PAIRS, {}, "pairs"),
        ({"sweep": FULL}, {"method": "back_to_back"}, "back_to_back"),
    ],
)
def test_the_files_choose_the_method(sweeps, more, method):
    request = Request("insertion_loss", sweeps=sweeps, **{"ratio": Fraction(4), **more})
    assert choose_loss_method(request)[0] == method


@pytest.mark.parametrize("method", ["", "y21", "guess"])
def test_unknown_methods_are_refused(method):
    if method == "":
        with pytest.raises(BenchnightError) as caught:
            analysis_of()
        assert caught.value.code == "sweep.missing"
        assert caught.value.detail == "The sweep is missing. Add it and send again."
        return
    with pytest.raises(BenchnightError) as caught:
        analysis_of(FULL, method=method)
    assert (caught.value.code, caught.value.field) == ("insertion_loss.method", "method")


def test_sweeps_of_different_lists_meet_on_one():
    m = benches.medium(FREQ)
    other = benches.linear_hz(301, 0.5e6, 32e6)
    sweeps = {
        "far_open": benches.one_port(FREQ, m.shunt_inductor(10e-6).s[:, 0, 0] * 0 + _gamma(FREQ, 2e3)),
        "far_short": benches.one_port(other, _gamma(other, 1.0)),
        "far_load": benches.one_port(other, _gamma(other, 48.0)),
    }
    result = analysis_of(more=sweeps, ratio=Fraction(4), load_ohm=200.0).result
    assert result["method"] == "one_port" and result["span"]["points"] == 201
    assert band(result, "20m")["loss_db"]["worst"] is not None


def _gamma(freq, ohm):
    return np.full(freq.size, (ohm - 50) / (ohm + 50))


def test_sweeps_without_common_frequencies_are_refused():
    low, high = benches.linear_hz(11, 1e6, 5e6), benches.linear_hz(11, 6e6, 9e6)
    sweeps = {
        "far_open": benches.one_port(low, np.ones(11)),
        "far_short": benches.one_port(high, -np.ones(11)),
        "far_load": benches.one_port(low, np.zeros(11)),
    }
    with pytest.raises(BenchnightError) as caught:
        analysis_of(more=sweeps, ratio=Fraction(4))
    assert caught.value.code == "sweep.no_common_span"


def test_pairs_report_every_device():
    # Three lossy 4:1 models back to back (computed independently): sums .760077, 1.120555, 1.421800 dB.
    sums = {"pair_ab": 0.760077, "pair_ac": 1.120555, "pair_bc": 1.421800}
    only_s21 = [[0, 0], [1, 0]]
    sweeps = {
        role: benches.two_port(FREQ, constant(0, 10 ** (-db / 20)), only_s21) for role, db in sums.items()
    }
    analysis = analysis_of(more=sweeps, ratio=Fraction(4))
    devices = {found["label"]: found["bands"] for found in analysis.result["summary"]["devices"]}
    got = {label: bands[3]["loss_db"]["worst"] for label, bands in devices.items()}
    assert got == {
        "a": pytest.approx(0.229416, abs=1e-6),
        "b": pytest.approx(0.530661, abs=1e-6),
        "c": pytest.approx(0.891139, abs=1e-6),
    }
    # without S11 nobody knows how the two meet at the joint: 8.7 |G|^2 with |G|^2 up to 1 - 10^(-0.038)
    assert {devices[label][3]["decision"] for label in "ac"} == {"too_close"}
    assert devices["a"][3]["meets"] is None and devices["a"][3]["uncertainty"]["loss_db"] > 0.3
    assert {"loss_a_db", "loss_b_db", "loss_c_db"} <= set(analysis.traces)
    assert analysis.result["summary"]["residual_db"] is None


def test_back_to_back_shows_the_halved_reading():
    s = lossy_four_to_one()
    pair = skrf.Network(f=FREQ, f_unit="hz", s=s, z0=50)
    both = pair ** pair.flipped()
    # Computed independently: 1.063490 dB, half 0.531745 dB.
    result = analysis_of(benches.two_port(FREQ, both.s), ratio=Fraction(4), method="back_to_back").result
    got = band(result, "20m")
    assert got["halved_db"]["worst"] == pytest.approx(0.531745, abs=1e-5)
    assert "halved_db" not in band(analysis_of(benches.two_port(FREQ, s), ratio=Fraction(4)).result, "20m")
