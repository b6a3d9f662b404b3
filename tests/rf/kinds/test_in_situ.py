"""`in_situ`: the four findings, their limits, what is said about them.

Rules (common practice, no source).
"""

from __future__ import annotations

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.rf.bands import Band
from measurements.rf.kinds import in_situ
from measurements.rf.request import Limits
from measurements.rf.sweeps.sweep import Sweep
from tests.rf.method_requests import codes, flat, request

BANDS = (Band("40m", 7.0e6, 7.3e6), Band("20m", 14.0e6, 14.35e6))


def reflecting(*magnitudes: float) -> Sweep:
    """|S11| of the first value up to 10 MHz and of the last above."""
    freq_hz = np.array([1e6, 10e6, 10.1e6, 30e6])
    low, high = magnitudes[0], magnitudes[-1]
    s = np.array([low, low, high, high], complex).reshape(4, 1, 1) * np.exp(0.4j)
    return Sweep(freq_hz, s, np.array([50.0]), np.ones((1, 1), bool))


@pytest.mark.parametrize(
    ("through", "bypassed", "expected"),
    [
        (0.5, 0.1, "device_at_fault"),
        (0.5, 0.5, "antenna_or_line_at_fault"),
        (0.1, 0.1, "no_fault_found"),
        (0.1, 0.5, "inconclusive"),
    ],
)
def test_the_four_findings(through, bypassed, expected):
    asked = request(
        "in_situ", None, 1, sweep=reflecting(through), sweep_bypassed=reflecting(bypassed), bands=BANDS
    )
    result = in_situ.compute(asked)
    for band in result.band_metrics:
        assert band["finding"] == expected
        assert band["meets"] is (through < 0.2)
        assert band["swr_through"]["worst"] == pytest.approx((1 + through) / (1 - through))
        assert band["swr_bypassed"]["centre"] == pytest.approx((1 + bypassed) / (1 - bypassed))
    assert result.summary == {"finding": expected, "swr_limit": 1.5}
    assert ("in_situ_hidden" in codes(result.flags)) is (expected == "inconclusive")
    assert "in_situ_indicative" not in codes(result.flags)


@pytest.mark.parametrize(
    ("through", "bypassed", "expected"),
    [
        ((0.5, 0.1), (0.1, 0.1), "device_at_fault"),
        ((0.5, 0.5), (0.1, 0.5), "device_at_fault"),
        ((0.1, 0.5), (0.1, 0.5), "antenna_or_line_at_fault"),
        ((0.1, 0.1), (0.1, 0.5), "inconclusive"),
        ((0.5, 0.1), (0.5, 0.5), "antenna_or_line_at_fault"),
    ],
)
def test_over_all_bands_the_gravest_counts(through, bypassed, expected):
    asked = request(
        "in_situ", None, 1, sweep=reflecting(*through), sweep_bypassed=reflecting(*bypassed), bands=BANDS
    )
    assert in_situ.compute(asked).summary["finding"] == expected


def test_the_limit_is_the_groups_own():
    sweeps = {"sweep": reflecting(0.25), "sweep_bypassed": reflecting(0.1)}  # SWR 1.667
    assert in_situ.compute(request("in_situ", None, 1, **sweeps, bands=BANDS)).summary["finding"] == (
        "device_at_fault"
    )
    lenient = request("in_situ", None, 1, **sweeps, bands=BANDS, limits=Limits(swr=2.0))
    assert in_situ.compute(lenient).summary["finding"] == "no_fault_found"


def test_another_ratio_is_only_indicative():
    sweeps = {"sweep": reflecting(0.1), "sweep_bypassed": reflecting(0.6)}
    result = in_situ.compute(request("in_situ", None, 4, **sweeps, bands=BANDS))
    (said,) = [flag for flag in result.flags if flag.code == "in_situ_indicative"]
    assert "4:1" in said.message


def test_a_band_that_one_sweep_misses_decides_nothing():
    short = Sweep(np.array([1e6, 8e6]), np.full((2, 1, 1), 0.1 + 0j), np.array([50.0]), np.ones((1, 1), bool))
    result = in_situ.compute(
        request("in_situ", None, 1, sweep=reflecting(0.5), sweep_bypassed=short, bands=BANDS)
    )
    assert [band["finding"] for band in result.band_metrics] == ["device_at_fault", "inconclusive"]
    assert result.band_metrics[1]["swr_bypassed"]["worst"] is None
    assert result.summary["finding"] == "device_at_fault"
    drawn = result.traces["swr_bypassed"]
    assert np.isnan(drawn[result.grid.freq_hz > 8e6]).all()
    assert np.allclose(drawn[result.grid.freq_hz <= 8e6], 1.1 / 0.9)
    no_bands = in_situ.compute(request("in_situ", None, 1, sweep=reflecting(0.5), sweep_bypassed=short))
    assert no_bands.summary["finding"] == "inconclusive"


def test_total_reflection_is_bad_and_silent():
    result = in_situ.compute(
        request("in_situ", None, 1, sweep=reflecting(1.0), sweep_bypassed=reflecting(0.1, 1.001), bands=BANDS)
    )
    assert [band["finding"] for band in result.band_metrics] == [
        "device_at_fault",
        "antenna_or_line_at_fault",
    ]
    assert result.band_metrics[0]["swr_through"]["worst"] is None
    assert sum(flag.code == "undefined_points" for flag in result.flags) == 2


def test_both_sweeps_are_needed_with_s11():
    with pytest.raises(BenchnightError) as missing:
        in_situ.compute(request("in_situ", None, 1, sweep=reflecting(0.1)))
    assert (missing.value.code, missing.value.field) == ("sweep.missing", "sweep_bypassed")
    with pytest.raises(BenchnightError) as column:
        in_situ.compute(
            request("in_situ", None, 1, sweep=reflecting(0.1), sweep_bypassed=flat([0.1]).without(0, 0))
        )
    assert (column.value.code, column.value.field) == ("sweep.not_measured", "sweep_bypassed")
