"""The common-mode test from sweep to figures."""

from __future__ import annotations

import json

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.rf.analysis import Request, analyse
from measurements.rf.bands import Band
from measurements.rf.evidence_grid import GRID_HZ
from measurements.rf.request import Limits
from measurements.rf.sweeps.sweep import Sweep
from tests.rf import benches
from tests.rf.benches import band, codes

FREQ = benches.linear_hz()


def result_of(sweep, **changes):
    sweeps = {"sweep": sweep, **changes.pop("jig", {})}
    request = Request("common_mode", sweeps=sweeps, bands=benches.BANDS, **{"calibrated": True, **changes})
    analysis = analyse(request)
    json.dumps(analysis.result, allow_nan=False)
    return analysis


def test_figures_of_a_textbook_choke():
    result = result_of(benches.two_port(FREQ, benches.choke(FREQ, capacitance=5e-12))).result
    z = benches.choke_z(np.array([7.0e6, 7.15e6, 7.3e6]), capacitance=5e-12)
    rejection = 20 * np.log10(abs(1 + z / 100))  # CISPR 17 insertion loss of a series impedance in 50/50 ohm
    got = band(result, "40m")
    assert result["method"] == "y21" and result["reference_ohm"] == 50
    assert got["coverage"] == "full" and got["meets"] is True
    assert got["rejection_db"] == {
        "worst": pytest.approx(rejection[0], abs=1e-3),
        "worst_hz": 7.0e6,
        "centre": pytest.approx(rejection[1], abs=1e-3),
        "best": pytest.approx(rejection[2], abs=1e-3),
    }
    assert got["resistance_ohm"]["worst"] == pytest.approx(z[0].real, rel=1e-3)
    assert got["impedance_ohm"]["worst"] == pytest.approx(abs(z[0]), rel=1e-3)
    assert got["impedance_centre_ohm"]["re"] == pytest.approx(z[1].real, rel=1e-3)
    assert got["impedance_centre_ohm"]["im"] == pytest.approx(z[1].imag, rel=1e-3)
    assert band(result, "160m")["meets"] is False
    summary = result["summary"]
    assert summary["benchmark_db"] == 20 and summary["rejection_judged"] == "raw"
    assert summary["stray_capacitance_f"] == pytest.approx(5e-12, rel=1e-3)
    assert summary["meets_to_hz"] == pytest.approx(_upper_20_db(), rel=1e-4)


def _upper_20_db():
    """Where the same circuit falls back to 20 dB, found on a hundred times finer list."""
    freq = np.linspace(1e6, 30e6, 400_001)
    meets = 20 * np.log10(abs(1 + benches.choke_z(freq, capacitance=5e-12) / 100)) >= 20
    return freq[meets][-1]


@pytest.mark.parametrize(
    ("measured", "method"), [([[1, 0], [1, 0]], "s21"), ([[1, 0], [0, 0]], "s11"), ([[0, 0], [1, 0]], "s21")]
)
def test_other_ways_to_the_same_choke(measured, method):
    s = benches.choke(FREQ)
    if method == "s11":  # far side shorted to shield
        s = np.array(s)
        z = benches.choke_z(FREQ)
        s[:, 0, 0] = (z - 50) / (z + 50)
    full = result_of(benches.two_port(FREQ, benches.choke(FREQ))).result
    part = result_of(benches.two_port(FREQ, s, measured)).result
    assert part["method"] == method
    for name in ("rejection_db", "impedance_ohm", "resistance_ohm"):
        expected = band(full, "20m")[name]["worst"]
        assert band(part, "20m")[name]["worst"] == pytest.approx(expected, rel=2e-3)
    assert part["measured"] == {
        "s11": bool(measured[0][0]), "s21": bool(measured[1][0]), "s12": False, "s22": False
    }  # fmt: skip


def test_raw_and_compensated_are_both_kept_and_the_result_says_which_is_judged():
    m = benches.medium(FREQ)
    z_short, c_open = m.inductor(40e-9), 0.8e-12
    device = benches.choke_z(FREQ, 30e-6, 9000, 1e-12)
    read = 1 / (1 / device + 2j * np.pi * FREQ * c_open)
    test = z_short ** m.resistor(read)
    opened = z_short ** m.capacitor(c_open)
    gear = {
        "jig_open": benches.two_port(FREQ, opened.s),
        "jig_short": benches.two_port(FREQ, z_short.s),
    }
    analysis = result_of(benches.two_port(FREQ, test.s), jig=gear)
    got, summary = band(analysis.result, "10m"), analysis.result["summary"]
    at = np.array([28e6, 29.7e6])
    truth = 20 * np.log10(abs(1 + benches.choke_z(at, 30e-6, 9000, 1e-12) / 100))
    raw = np.interp(at, FREQ, -20 * np.log10(abs(test.s[:, 1, 0])))
    assert summary["rejection_judged"] == "compensated"
    assert got["rejection_db"]["worst"] == pytest.approx(truth.min(), abs=0.01)
    assert got["rejection_compensated_db"] == got["rejection_db"]
    assert got["rejection_raw_db"]["worst"] == pytest.approx(raw.min(), abs=0.01)
    assert abs(truth.min() - raw.min()) > 0.5
    assert summary["floor_db"] == pytest.approx(-20 * np.log10(abs(opened.s[-1, 1, 0])), abs=1e-6)
    assert analysis.evidence is not None
    assert {"floor_db", "rejection_raw_db"} <= set(analysis.traces)


def test_bands_within_10_db_of_the_open_jig_are_judged_by_the_bound():
    """|Y| <= |Ym| + |Yo|, and the rejection of a pure reactance of that size, by hand."""
    freq = FREQ
    leak = np.zeros((401, 2, 2), complex)
    leak[:, 1, 0] = 10 ** (-40 / 20)
    s = benches.choke(freq, 20e-6, 5000, 2e-12)
    result = result_of(benches.one_way(freq, s), jig={"jig_open": benches.one_way(freq, leak)}).result
    raw = {found["band"]: found["rejection_raw_db"] for found in result["bands"]}
    limited = {found["band"] for found in result["bands"] if found["jig_limited"]}
    assert limited == {name for name, value in raw.items() if value["best"] > 30} and limited
    assert {found["band"] for found in result["bands"] if found["judged_by_bound"]} == limited
    flags = [one for one in result["flags"] if one["code"] == "jig_limited"]
    assert {one["band"] for one in flags} == limited
    rejection = {found["band"]: found["rejection_db"] for found in result["bands"]}
    assert all(f"at least {rejection[one['band']]['worst']:.1f} dB" in one["message"] for one in flags)
    at = np.linspace(28.0e6, 29.7e6, 2001)
    z_ohm = benches.choke_z(at, 20e-6, 5000, 2e-12)
    read, yo = 20 * np.log10(abs(1 + z_ohm / 100)), 0.01 / 0.99 / 100
    bound = 10 * np.log10(1 + (1 / (1 / abs(z_ohm) + yo) / 100) ** 2)
    certain = np.where(read > 30, bound, read)
    assert limited == {"10m"}
    assert rejection["10m"]["worst"] == pytest.approx(certain.min(), abs=0.05)
    assert rejection["10m"]["worst"] < raw["10m"]["worst"]
    assert result["summary"]["floor_db"] == pytest.approx(40)


def test_through_is_divided_out():
    m = benches.medium(FREQ)
    cable = m.line(1.0, "m", z0=50) ** m.attenuator(-1.5)
    device = m.resistor(400)
    result = result_of(
        benches.one_way(FREQ, (cable**device).s), jig={"jig_through": benches.one_way(FREQ, cable.s)}
    ).result
    got = band(result, "20m")
    assert result["summary"]["rejection_judged"] == "normalised"
    assert got["rejection_db"]["worst"] == pytest.approx(20 * np.log10(5), abs=1e-6)
    assert got["rejection_raw_db"]["worst"] == pytest.approx(20 * np.log10(5) + 1.5, abs=1e-3)
    assert got["impedance_centre_ohm"] == {"re": pytest.approx(400), "im": pytest.approx(0, abs=1e-6)}


def test_evidence_is_zcm_on_the_grid_and_nothing_else():
    curve = result_of(benches.two_port(FREQ, benches.choke(FREQ))).evidence
    inside = GRID_HZ <= 30e6
    assert curve.z_ohm.dtype == np.complex64 and curve.z_ohm.shape == (97,)
    assert curve.z_ohm[inside] == pytest.approx(benches.choke_z(GRID_HZ[inside]), rel=2e-3)
    assert np.isnan(curve.z_ohm[~inside]).all()


def test_magnitudes_alone_give_rejection_and_no_impedance():
    s = np.abs(benches.choke(FREQ)) + 0j
    sweep = Sweep(FREQ, s, np.full(2, 50.0), np.array([[False, False], [True, False]]), magnitude_only=True)
    analysis = result_of(sweep)
    full = result_of(benches.one_way(FREQ, benches.choke(FREQ))).result
    got = band(analysis.result, "20m")
    assert got["rejection_db"]["worst"] == pytest.approx(band(full, "20m")["rejection_db"]["worst"], abs=0.01)
    assert got["resistance_ohm"]["worst"] is None and got["impedance_centre_ohm"] is None
    assert analysis.evidence is None and "resistance_ohm" not in analysis.traces
    assert {"magnitude_only"} <= codes(analysis.result)
    assert analysis.result["summary"]["inductance_h"] is None


def test_reflection_magnitudes_alone_are_refused():
    sweep = benches.one_port(FREQ, np.full(401, 0.5), magnitude_only=True)
    with pytest.raises(BenchnightError) as caught:
        result_of(sweep)
    assert caught.value.code == "common_mode.no_phase"


@pytest.mark.parametrize(
    ("name", "s11", "s21"), [("nothing gets through", 1, 0), ("ideal through", 0, 1), ("all zero", 0, 0)]
)
def test_singular_sweeps_give_null_and_a_flag(name, s11, s21):
    s = np.empty((401, 2, 2), complex)
    s[:, 0, 0] = s[:, 1, 1] = s11
    s[:, 0, 1] = s[:, 1, 0] = s21
    for sweep in (benches.two_port(FREQ, s), benches.one_way(FREQ, s)):
        result = result_of(sweep).result
        got = band(result, "40m")
        if s21 == 0:
            assert got["rejection_db"]["worst"] is None and got["impedance_ohm"]["best"] is None
            assert {"undefined_points", "looks_open"} <= codes(result)
        else:
            assert got["rejection_db"]["worst"] == 0 and got["impedance_ohm"]["worst"] == 0
            assert (got["meets"], got["decision"]) == (None, "not_judged")
            assert {"looks_like_through", "benchmark_not_met"} <= codes(result)


def test_s11_of_one_is_undefined_by_reflection():
    sweep = benches.two_port(FREQ, np.ones((401, 2, 2)), [[1, 0], [0, 0]])
    result = result_of(sweep).result
    assert band(result, "40m")["impedance_ohm"]["worst"] is None and "undefined_points" in codes(result)


def test_another_benchmark_changes_only_the_verdict():
    sweep = benches.two_port(FREQ, benches.choke(FREQ))
    strict = result_of(sweep, limits=Limits(benchmark_db=30)).result
    usual = result_of(sweep).result
    assert band(strict, "10m")["rejection_db"] == band(usual, "10m")["rejection_db"]
    assert strict["summary"]["benchmark_db"] == 30
    assert [found["meets"] for found in strict["bands"]] != [found["meets"] for found in usual["bands"]]


def test_partial_band_is_not_judged_and_says_whether_it_fails_already():
    freq = benches.linear_hz(401, 3.7e6, 28.5e6)
    result = result_of(benches.two_port(freq, benches.choke(freq))).result
    low, high = band(result, "80m"), band(result, "10m")
    assert (low["coverage"], low["meets"]) == ("partial", None)
    assert (high["coverage"], high["meets"]) == ("partial", None)
    said = {one["band"]: one["message"] for one in result["flags"] if one["code"] == "partial_band"}
    assert "already fails" in said["80m"] and "keeps to the limit" in said["10m"]
    assert "3.7 MHz to 4 MHz" in said["80m"]
    assert band(result, "160m")["rejection_db"]["worst"] is None and "bands_not_covered" in codes(result)


def test_sparse_sweeps_are_interpolated_in_complex_s():
    freq = np.array([5e6, 6.5e6, 8e6, 20e6])
    s = benches.choke(freq)
    result = result_of(benches.two_port(freq, s)).result
    got = band(result, "40m")
    chord = s[1, 1, 0] + (7.0 - 6.5) / 1.5 * (s[2, 1, 0] - s[1, 1, 0])
    assert got["coverage"] == "interpolated" and got["points_in_band"] == 0 and got["meets"] is not None
    assert got["rejection_db"]["worst"] == pytest.approx(-20 * np.log10(abs(chord)))
    assert "sparse_in_band" in codes(result) and "gap_over_band" in codes(result)
    gaps = [one["band"] for one in result["flags"] if one["code"] == "gap_over_band"]
    assert gaps == ["20m"]


@pytest.mark.parametrize("z0", [75.0, 25.0])
def test_a_full_two_port_of_another_reference_is_converted(z0):
    import skrf

    s = skrf.network.z2s(skrf.network.s2z(benches.choke(FREQ) * 0.999999, 50), z0)
    result = result_of(benches.two_port(FREQ, s, z0_ohm=z0)).result
    usual = result_of(benches.two_port(FREQ, benches.choke(FREQ))).result
    assert result["reference_ohm"] == 50 and "reference_converted" in codes(result)
    worst = band(usual, "20m")["rejection_db"]["worst"]
    assert band(result, "20m")["rejection_db"]["worst"] == pytest.approx(worst, abs=1e-3)


def test_one_way_sweep_of_another_reference_keeps_it_and_is_no_evidence():
    result = result_of(benches.one_way(FREQ, benches.choke(FREQ), z0_ohm=75)).result
    assert result["reference_ohm"] == 75 and "reference_not_50" in codes(result)


def test_unequal_references_are_relative_to_a_direct_connection():
    z = 1000.0
    s21 = 2 * np.sqrt(50 * 75) / (125 + z)
    s = np.full((401, 2, 2), s21, complex)
    measured = np.array([[False, False], [True, False]])
    sweep = Sweep(FREQ, s, np.array([50.0, 75.0]), measured)
    got = band(result_of(sweep).result, "20m")
    assert got["impedance_ohm"]["worst"] == pytest.approx(z)
    assert got["rejection_db"]["worst"] == pytest.approx(20 * np.log10(1 + z / 125))


def test_jig_shorter_than_the_sweep_is_not_used_where_a_band_would_be_lost():
    short = benches.linear_hz(201, 2e6, 20e6)
    gear = {"jig_open": benches.one_way(short, np.full((201, 2, 2), 1e-3))}
    result = result_of(benches.one_way(FREQ, benches.choke(FREQ)), jig=gear).result
    assert "jig_span" in codes(result) and result["summary"]["floor_db"] is None
    assert result["span"]["stop_hz"] == 30e6


def test_jig_that_covers_all_bands_cuts_the_sweep():
    short = benches.linear_hz(201, 1.5e6, 29.8e6)
    gear = {"jig_through": benches.one_way(short, np.ones((201, 2, 2)))}
    result = result_of(benches.one_way(FREQ, benches.choke(FREQ)), jig=gear).result
    assert "jig_narrower" in codes(result)
    assert (result["span"]["start_hz"], result["span"]["stop_hz"]) == (1.5e6, 29.8e6)


def test_a_narrow_band_between_two_points_is_judged():
    narrow = Band("60m", 5.3515e6, 5.3665e6)
    sweep = benches.two_port(FREQ, benches.choke(FREQ))
    request = Request("common_mode", sweeps={"sweep": sweep}, bands=(narrow,), calibrated=True)
    got = band(analyse(request).result, "60m")
    assert got["coverage"] == "interpolated" and got["meets"] is False
    expected = 20 * np.log10(abs(1 + benches.choke_z(np.array([5.3515e6])) / 100))[0]
    assert got["rejection_db"]["worst"] == pytest.approx(expected, abs=0.01)


def test_the_usual_sweeps_are_not_called_sparse():
    """A band narrower than the step of a fine sweep is interpolated, which is no reason to doubt it."""
    for points, stop_hz, sparse in ((401, 30e6, False), (401, 54e6, False), (51, 54e6, True)):
        freq = benches.linear_hz(points, 1e6, stop_hz)
        found = codes(result_of(benches.two_port(freq, benches.choke(freq))).result)
        assert ("sparse_in_band" in found) == sparse
        assert "bands_not_covered" not in found


def test_a_doubt_about_the_jig_is_raised_where_the_jig_can_matter():
    freq = benches.linear_hz(401, 1e6, 30e6)
    modest = result_of(benches.two_port(freq, benches.choke(freq, resistance=2000.0))).result
    strong = result_of(benches.two_port(freq, benches.choke(freq, 60e-6, 30000.0))).result
    assert "floor_unknown" not in codes(modest) and "floor_unknown" in codes(strong)
