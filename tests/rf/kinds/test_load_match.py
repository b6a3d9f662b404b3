"""SWR and return loss against published tables, and load resistors that are off."""

from __future__ import annotations

import json
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.errors import BenchnightError
from measurements.rf.analysis import Request, analyse
from measurements.rf.kinds.load_match import compute_swr
from measurements.rf.networks.series_through import rejection_db
from tests.rf import benches
from tests.rf.benches import band, codes
from tests.rf.method_requests import STEADY

FREQ = benches.linear_hz(201)

# Published table of return loss, SWR and |reflection| (radio-electronics.com); all rows used as printed.
TABLE = [
    (1, 17.391, 0.891), (3, 5.848, 0.708), (6, 3.010, 0.501), (10, 1.925, 0.316),
    (14, 1.499, 0.200), (15, 1.433, 0.178), (20, 1.222, 0.100), (30, 1.065, 0.032),
]  # fmt: skip


@pytest.mark.parametrize(("return_loss", "swr", "reflection"), TABLE)
def test_published_table(return_loss, swr, reflection):
    exact = 10 ** (-return_loss / 20)
    assert exact == pytest.approx(reflection, abs=5.1e-4)
    assert compute_swr(np.array([exact]))[0] == pytest.approx(swr, abs=5.1e-4)
    assert rejection_db(np.array([exact + 0j]))[0] == pytest.approx(return_loss)


@pytest.mark.parametrize(
    ("swr", "reflection", "return_loss"),
    [
        (1.1, 0.047619, 26.4444),
        (1.5, 0.2, 13.9794),
        (1.8, 0.285714, 10.881),
        (2, 1 / 3, 9.5424),
        (9, 0.8, 1.9382),
    ],
)
def test_rows_by_swr(swr, reflection, return_loss):
    # SWR 1.5 published at solvefree.com/rf/vswr; 1.8 is 10.881 dB (one published table prints 10.2); the
    # others computed independently.
    assert compute_swr(np.array([reflection]))[0] == pytest.approx(swr, rel=1e-5)
    assert rejection_db(np.array([reflection + 0j]))[0] == pytest.approx(return_loss, abs=1e-3)


def result_of(sweep, **changes):
    request = Request(
        "load_match", sweeps={"sweep": sweep}, bands=benches.BANDS, **{"calibrated": True, **changes}
    )
    analysis = analyse(request)
    json.dumps(analysis.result, allow_nan=False)
    return analysis


def test_input_of_a_transformer_with_its_load():
    m = benches.medium(FREQ)
    magnetising, load = m.shunt_inductor(8e-6), m.load((48.0 - 50) / 98.0)
    network = magnetising**load
    analysis = result_of(benches.one_port(FREQ, network.s[:, 0, 0]), ratio=Fraction(4), load_ohm=192.0)
    got, summary = band(analysis.result, "40m"), analysis.result["summary"]
    jw = 2j * np.pi * np.array([7.0e6, 7.15e6])
    z = 1 / (1 / 48 + 1 / (jw * 8e-6))
    reflection = abs((z - 50) / (z + 50))
    assert got["swr"]["worst"] == pytest.approx(((1 + reflection) / (1 - reflection))[0], rel=1e-4)
    assert got["return_loss_db"]["worst"] == pytest.approx(-20 * np.log10(reflection[0]), rel=1e-4)
    assert got["input_centre_ohm"]["re"] == pytest.approx(z[1].real, rel=1e-4)
    assert got["input_centre_ohm"]["im"] == pytest.approx(z[1].imag, rel=1e-3)
    assert got["meets"] is True
    assert summary == {
        "load_ohm": 192.0,
        "nominal_load_ohm": 200.0,
        "load_alone_swr": pytest.approx(200 / 192),
        "swr_limit": 1.5,
    }
    assert set(analysis.traces) == {
        "freq_hz", "swr", "return_loss_db", "resistance_ohm", "reactance_ohm", "impedance_ohm"
    }  # fmt: skip
    assert analysis.evidence is None and analysis.result["method"] == "s11"


def test_swr_beyond_the_limit_fails():
    given = {"load_ohm": 50.0, "analyser": STEADY}
    result = result_of(benches.one_port(FREQ, np.full(201, 0.25)), **given).result
    assert all(found["meets"] is False for found in result["bands"])
    exact = result_of(benches.one_port(FREQ, np.full(201, 0.2)), load_ohm=50.0).result
    assert all(found["swr"]["worst"] == pytest.approx(1.5) for found in exact["bands"])


def test_swr_near_the_limit_is_too_close_to_call():
    # closed form: a residual of 0.01 on |S11| 0.21 is 2 x 0.01/(1-0.21)^2 = 0.032 in SWR; 1.53 less that
    # is below 1.5
    result = result_of(benches.one_port(FREQ, np.full(201, 0.21)), load_ohm=50.1).result
    for found in result["bands"]:
        assert (found["meets"], found["decision"]) == (None, "too_close")
        assert 0.032 < found["uncertainty"]["swr"] < 0.1


def test_more_comes_back_than_was_sent_is_never_judged():
    # |S11|^2 + ... <= 1 of a passive device; 1.05 is five residuals of 0.01 beyond it
    s11 = np.where(FREQ > 10e6, 1.05, 0.1)
    result = result_of(benches.one_port(FREQ, s11), load_ohm=50.1).result
    assert "impossible_gain" in codes(result)
    assert {found["decision"] for found in result["bands"]} == {"not_judged"}


def test_swr_alone_gives_swr_and_return_loss_only():
    analysis = result_of(benches.one_port(FREQ, np.full(201, 0.1), magnitude_only=True), load_ohm=50.0)
    got = band(analysis.result, "20m")
    assert got["swr"]["worst"] == pytest.approx(1.2222, abs=1e-4) and got["input_centre_ohm"] is None
    assert set(analysis.traces) == {"freq_hz", "swr", "return_loss_db"}
    assert "magnitude_only" in codes(analysis.result)


@pytest.mark.parametrize(("load", "alone"), [(47.0, 1.0638), (53.0, 1.06), (50.0, 1.0)])
def test_the_resistor_alone(load, alone):
    # 47 ohm alone is 1.06: common practice, no source.
    summary = result_of(benches.one_port(FREQ, np.full(201, 0.05)), load_ohm=load).result["summary"]
    assert summary["load_alone_swr"] == pytest.approx(alone, abs=1e-4)


@pytest.mark.parametrize(
    ("load", "code"),
    [
        (200.0, None),
        (209.0, None),
        (191.0, None),
        (215.0, "load_off_nominal"),
        (245.0, "load_far_from_nominal"),
        (50.0, "load_far_from_nominal"),
        (None, "load_assumed"),
    ],
)
def test_load_off_nominal(load, code):
    result = result_of(benches.one_port(FREQ, np.full(201, 0.05)), ratio=Fraction(4), load_ohm=load).result
    loads = {found for found in codes(result) if found.startswith("load_")}
    assert loads == ({code} if code else set())


def test_no_load_value_is_null_with_a_flag():
    summary = result_of(benches.one_port(FREQ, np.full(201, 0.05))).result["summary"]
    assert summary["load_ohm"] is None and summary["load_alone_swr"] is None
    assert summary["nominal_load_ohm"] == 50


@pytest.mark.parametrize("load", [0.0, -50.0, float("nan"), float("inf")])
def test_impossible_loads_are_refused(load):
    with pytest.raises(BenchnightError) as caught:
        result_of(benches.one_port(FREQ, np.full(201, 0.05)), load_ohm=load)
    assert (caught.value.code, caught.value.field) == ("load_match.load_ohm", "load_ohm")


def test_total_reflection_fails_and_is_null_not_infinite():
    result = result_of(benches.one_port(FREQ, np.ones(201)), load_ohm=50.0).result
    got = band(result, "20m")
    assert got["swr"]["worst"] is None and got["return_loss_db"]["worst"] == 0
    # trade page, 6: a flag that leaves it out of evidence takes the verdict away
    assert (got["meets"], got["decision"]) == (None, "not_judged")
    assert got["input_centre_ohm"] is None
    assert {"undefined_points", "looks_unterminated"} <= codes(result)


def test_perfect_match_has_no_return_loss_figure():
    result = result_of(benches.one_port(FREQ, np.zeros(201)), load_ohm=50.0).result
    got = band(result, "20m")
    assert got["swr"]["worst"] == 1 and got["meets"] is True and got["return_loss_db"]["worst"] is None
    assert "undefined_points" in codes(result)


def test_reference_of_75_ohm_is_converted():
    result = result_of(benches.one_port(FREQ, np.zeros(201), z0_ohm=75), load_ohm=50.0).result
    assert band(result, "20m")["swr"]["worst"] == pytest.approx(1.5)
    assert result["reference_ohm"] == 50 and "reference_converted" in codes(result)


@given(st.complex_numbers(max_magnitude=0.999, allow_nan=False))
def test_impedance_swr_and_return_loss_tell_one_story(s11):
    result = result_of(benches.one_port(FREQ, np.full(201, s11)), load_ohm=50.0).result
    got = band(result, "20m")
    z = complex(got["input_centre_ohm"]["re"], got["input_centre_ohm"]["im"])
    assert abs((z - 50) / (z + 50)) == pytest.approx(abs(s11), abs=1e-9)
    swr = got["swr"]["worst"]
    assert (swr - 1) / (swr + 1) == pytest.approx(abs(s11), abs=1e-9)
