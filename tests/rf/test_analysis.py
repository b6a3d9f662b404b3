"""The one entry point: shape of every result, declarations, thinning, and what it costs."""

from __future__ import annotations

import json
import math
from fractions import Fraction

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.rf.analysis import ENGINE_VERSION, KINDS, TRACE_POINTS, Request, analyse
from tests.rf import benches
from tests.rf.benches import codes

FREQ = benches.linear_hz()
CHOKE = benches.two_port(FREQ, benches.choke(FREQ))


def analysis_of(kind="common_mode", sweep=CHOKE, **changes):
    return analyse(
        Request(kind, sweeps={"sweep": sweep}, bands=benches.BANDS, **{"calibrated": True, **changes})
    )


@pytest.mark.parametrize("kind", ["common_mode", "load_match", "insertion_loss"])
def test_every_result_has_the_same_frame(kind):
    result = analysis_of(kind, ratio=Fraction(4)).result
    assert set(result) == {
        "kind", "method", "ratio", "reference_ohm", "engine_version", "span", "measured", "bands", "summary",
        "flags", "inputs",
    }  # fmt: skip
    assert (result["kind"], result["ratio"], result["engine_version"]) == (kind, "4:1", ENGINE_VERSION)
    assert result["span"] == {"start_hz": 1e6, "stop_hz": 30e6, "points": 401}
    assert [found["band"] for found in result["bands"]] == [band.name for band in benches.BANDS]
    for found in result["bands"]:
        assert {"band", "start_hz", "stop_hz", "points_in_band", "coverage", "meets"} <= set(found)
        assert "covered_meets" not in found
    for one in result["flags"]:
        assert set(one) == {"code", "severity", "message", "band"}
    (given,) = result["inputs"]
    assert given == {
        "role": "sweep", "source": "touchstone", "points": 401, "start_hz": 1e6, "stop_hz": 30e6, "notes": []
    }  # fmt: skip
    assert json.loads(json.dumps(result, allow_nan=False)) == result


METRICS = {
    "common_mode": {"rejection_db", "resistance_ohm", "impedance_ohm"},
    "load_match": {"swr", "return_loss_db"},
    "insertion_loss": {"loss_db", "dissipative_db", "mismatch_db"},
}


@pytest.mark.parametrize("kind", sorted(METRICS))
def test_every_metric_is_an_object_even_where_nothing_is_covered(kind):
    low = benches.linear_hz(21, 1e6, 1.5e6)
    for sweep in (CHOKE, benches.two_port(low, benches.choke(low))):
        for found in analysis_of(kind, sweep).result["bands"]:
            for name in METRICS[kind]:
                assert set(found[name]) == {"worst", "worst_hz", "centre", "best"}


def test_declarations_become_flags():
    assert not {"uncalibrated", "calibration_unknown", "same_sweep"} & codes(analysis_of().result)
    assert "uncalibrated" in codes(analysis_of(calibrated=False).result)
    assert "calibration_unknown" in codes(analysis_of(calibrated=None).result)
    assert "same_sweep" in codes(analysis_of(same_bytes=True).result)
    severities = {
        one["code"]: one["severity"] for one in analysis_of(calibrated=False, same_bytes=True).result["flags"]
    }
    assert severities["uncalibrated"] == severities["same_sweep"] == "exclude"


@pytest.mark.parametrize("seed", range(8))
def test_a_good_noisy_sweep_earns_no_exclusion(seed):
    sweep = benches.two_port(FREQ, benches.noisy(benches.choke(FREQ), seed))
    flags = analysis_of(sweep=sweep).result["flags"]
    assert not [one for one in flags if one["severity"] != "note"]


def test_traces_are_thinned_with_both_ends_kept():
    freq = benches.linear_hz(5001)
    traces = analysis_of(sweep=benches.two_port(freq, benches.choke(freq))).traces
    assert {values.size for values in traces.values()} == {TRACE_POINTS}
    assert (traces["freq_hz"][0], traces["freq_hz"][-1]) == (1e6, 30e6)
    assert (np.diff(traces["freq_hz"]) > 0).all() and np.isin(traces["freq_hz"], freq).all()


def test_short_traces_are_the_measured_points():
    traces = analysis_of().traces
    assert (traces["freq_hz"] == FREQ).all()
    assert traces["rejection_db"] == pytest.approx(-20 * np.log10(abs(CHOKE.s[:, 1, 0])))


def test_nothing_that_was_passed_in_is_changed():
    before = CHOKE.s.copy()
    sweeps = {"sweep": CHOKE}
    analyse(Request("common_mode", sweeps=sweeps, bands=benches.BANDS))
    assert (CHOKE.s == before).all() and sweeps == {"sweep": CHOKE}


def test_flags_do_not_repeat():
    flags = analysis_of().result["flags"]
    seen = [(one["code"], one["band"], one["message"]) for one in flags]
    assert len(seen) == len(set(seen))


@pytest.mark.parametrize(
    ("request_", "code"),
    [
        (Request("choke"), "kind.unknown"),
        (Request("common_mode"), "sweep.missing"),
        (Request("load_match"), "sweep.missing"),
        (Request("insertion_loss"), "sweep.missing"),
    ],
)
def test_what_cannot_be_computed_is_refused(request_, code):
    with pytest.raises(BenchnightError) as caught:
        analyse(request_)
    assert caught.value.code == code and caught.value.detail.endswith(".")


def test_no_bands_is_a_result_without_bands():
    result = analyse(Request("common_mode", sweeps={"sweep": CHOKE})).result
    assert result["bands"] == [] and math.isfinite(result["summary"]["peak_impedance_ohm"])


@pytest.mark.parametrize("points", [1, 2, 3])
@pytest.mark.parametrize("kind", ["common_mode", "load_match", "insertion_loss"])
def test_very_short_sweeps(kind, points):
    freq = np.array([7.1e6, 7.2e6, 7.25e6])[:points]
    result = analysis_of(kind, benches.two_port(freq, benches.choke(freq)), ratio=Fraction(1)).result
    json.dumps(result, allow_nan=False)
    assert result["span"]["points"] == points


def test_every_kind_has_a_row():
    assert set(KINDS) == {"common_mode", "load_match", "insertion_loss", "balance", "in_situ", "dc"}


@pytest.mark.parametrize("kind", ["common_mode", "load_match", "insertion_loss"])
@pytest.mark.parametrize("seed", range(3))
def test_a_sweep_that_starts_at_zero_hertz(kind, seed):
    freq = benches.linear_hz(301, 0, 30e6)
    m = benches.medium(freq[1:])
    s = np.concatenate([np.eye(2)[None], m.capacitor(1e-12).s])
    for noise in (0, 1e-3):
        result = analysis_of(kind, benches.two_port(freq, benches.noisy(s, seed, noise))).result
        json.dumps(result, allow_nan=False)


@pytest.mark.parametrize("kind", ["common_mode", "load_match", "insertion_loss"])
@pytest.mark.parametrize("value", [0, 1, -1, 1j, 0.5, 2, -2, 1e-300, 1e-320, 1e6, -1e6j])
def test_no_constant_sweep_makes_a_warning_or_a_nan(kind, value):
    s = np.full((401, 2, 2), value, complex)
    for sweep in (benches.two_port(FREQ, s), benches.one_way(FREQ, s)):
        json.dumps(analysis_of(kind, sweep, ratio=Fraction(4)).result, allow_nan=False)
