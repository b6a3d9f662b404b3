"""`in_situ`: the four findings, the referral of the jumper's sweep, commissioning, and the flags.

Rules: trade.md 3.5 of this project; the bound of two mismatches in cascade is a textbook one. How often the
findings are wrong is counted in `test_bypass_simulation.py`.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.rf.bands import Band
from measurements.rf.kinds import bypass_findings, in_situ
from measurements.rf.sweeps.sweep import Sweep
from tests.rf.method_requests import codes, flat, request

BANDS = (Band("40m", 7.0e6, 7.3e6), Band("20m", 14.0e6, 14.35e6))
FREQ_HZ = np.linspace(1e6, 30e6, 581)


def one_port(s11, freq_hz=FREQ_HZ) -> Sweep:
    s = np.broadcast_to(np.asarray(s11, complex), freq_hz.shape).reshape(-1, 1, 1).copy()
    return Sweep(freq_hz, s, np.array([50.0]), np.ones((1, 1), bool))


def of_ohm(z_ohm, freq_hz=FREQ_HZ) -> Sweep:
    z = np.broadcast_to(np.asarray(z_ohm, complex), freq_hz.shape)
    return one_port((z - 50) / (z + 50), freq_hz)


def dipole_ohm(f0_hz=7.15e6, r_ohm=60.0, q=12.0) -> np.ndarray:
    return r_ohm * (1 + 1j * q * (FREQ_HZ / f0_hz - f0_hz / FREQ_HZ))


def judge(through: Sweep, bypassed: Sweep, ratio: int | Fraction = 1, bands=BANDS[:1], **more):
    asked = {"antenna_bands": tuple(band.name for band in bands), "bands": bands, **more}
    return in_situ.compute(request("in_situ", None, ratio, sweep=through, sweep_bypassed=bypassed, **asked))


def test_a_healthy_dipole_with_2_2_at_its_band_edge_is_as_it_is():
    result = judge(of_ohm(dipole_ohm(7.0e6) * 1.03), of_ohm(dipole_ohm(7.0e6)))
    (band,) = result.band_metrics
    assert band["swr_bypassed"]["worst"] > 2
    assert band["finding"] == result.summary["finding"] == "device_changes_nothing"
    assert band["meets"] is None  # neither curve is held against a limit


def test_a_healthy_4_1_on_55_ohm_and_on_200_ohm_is_not_blamed():
    for antenna in (55.0, 200.0):
        result = judge(of_ohm(antenna / 4), of_ohm(antenna), 4)
        assert result.summary["finding"] == "device_changes_nothing", antenna


def test_a_dead_4_1_on_200_ohm_makes_it_worse():
    assert judge(one_port(0.995), of_ohm(200.0), 4).summary["finding"] == "device_makes_it_worse"
    assert judge(one_port(-0.99), of_ohm(200.0), 4).summary["finding"] == "device_makes_it_worse"


def test_much_loss_reads_as_better_and_a_matched_antenna_hides_it():
    lossy = judge(one_port(0.1), one_port(0.4))
    assert lossy.summary["finding"] == "better_through_device"
    hidden = judge(one_port(0.02), one_port(0.05))
    assert hidden.summary["finding"] == "device_changes_nothing"
    assert "in_situ_loss_hidden" in codes(hidden.flags) and "in_situ_loss_hidden" not in codes(lossy.flags)


def test_an_open_device_on_a_broken_antenna_decides_nothing():
    assert judge(one_port(0.99), one_port(0.97 * np.exp(-0.3j))).summary["finding"] == "inconclusive"


def test_bands_that_contradict_each_other_decide_nothing():
    both = np.where(FREQ_HZ < 10e6, 0.99, 0.1)
    assert judge(one_port(both), one_port(0.12), bands=BANDS).summary["finding"] == "inconclusive"
    unclear = np.where(FREQ_HZ < 10e6, 0.99, 0.5)
    result = judge(one_port(unclear), one_port(0.12), bands=BANDS)
    assert [band["finding"] for band in result.band_metrics] == ["device_makes_it_worse", "inconclusive"]
    assert result.summary["finding"] == "device_makes_it_worse"


def test_a_band_that_one_sweep_misses_decides_nothing():
    short = Sweep(np.array([1e6, 8e6]), np.full((2, 1, 1), 0.1 + 0j), np.array([50.0]), np.ones((1, 1), bool))
    result = judge(one_port(0.99), short, bands=BANDS)
    assert [band["finding"] for band in result.band_metrics] == ["device_makes_it_worse", "inconclusive"]
    assert result.band_metrics[1]["swr_bypassed"]["worst"] is None
    drawn = result.traces["swr_bypassed"]
    assert np.isnan(drawn[result.grid.freq_hz > 8e6]).all()
    assert np.allclose(drawn[result.grid.freq_hz <= 8e6], 1.1 / 0.9)
    assert judge(one_port(0.5), short, bands=()).summary["finding"] == "inconclusive"


def test_without_phase_nothing_is_called_alike_or_worse_that_may_not_be():
    def plain(value):
        sweep = one_port(value)
        return Sweep(sweep.freq_hz, sweep.s, sweep.z0_ohm, sweep.measured, "test", (), magnitude_only=True)

    result = judge(plain(0.99), plain(0.1))
    assert result.summary["finding"] == "inconclusive"
    assert "in_situ_needs_phase" in codes(result.flags)
    assert judge(plain(0.1), plain(0.6), 4).summary["finding"] == "inconclusive"


@pytest.mark.parametrize(("ratio", "z_ohm"), [(4, 200), (9, 450), (49, 2450), (1, 73 + 42j), (4, 12 - 300j)])
def test_the_change_of_reference_is_exact(ratio, z_ohm):
    """(Z - r 50) / (Z + r 50), from the definition of a reflection."""
    measured = np.array([(z_ohm - 50) / (z_ohm + 50)])
    referred, error = bypass_findings.refer_reflection(measured, ratio, 0.001)
    assert referred[0] == pytest.approx((z_ohm - ratio * 50) / (z_ohm + ratio * 50), abs=1e-12)
    moved, _ = bypass_findings.refer_reflection(measured + 1e-6, ratio, 0.001)
    assert abs(moved[0] - referred[0]) / 1e-6 * 0.001 == pytest.approx(error[0], rel=1e-3)


class TestCommissioning:
    def since(self, now: Sweep, then: Sweep):
        result = judge(now, now, first_bypassed=then)
        return result.summary["bypassed_since_commissioning"], result.band_metrics[0]

    def test_the_same_antenna_is_as_commissioned(self):
        change, band = self.since(of_ohm(dipole_ohm(7.16e6)), of_ohm(dipole_ohm(7.14e6)))
        assert change == "as_commissioned"
        found = band["bypassed_since_commissioning"]
        assert found["resonance_then_hz"] == pytest.approx(7.14e6, rel=0.01)
        assert "through_since_commissioning" not in band

    def test_a_resonance_that_moved_and_a_joint_that_corroded_are_changes(self):
        change, band = self.since(of_ohm(dipole_ohm(6.6e6)), of_ohm(dipole_ohm()))
        assert change == "changed"
        assert band["bypassed_since_commissioning"]["resonance_now_hz"] == pytest.approx(6.6e6, rel=0.01)
        change, _ = self.since(of_ohm(dipole_ohm() + 200), of_ohm(dipole_ohm()))
        assert change == "changed"

    def test_a_device_is_not_blamed_where_the_antenna_is_not_the_one_of_then(self):
        then, now = of_ohm(dipole_ohm()), of_ohm(dipole_ohm() + 110)
        assert judge(one_port(-0.99), now).summary["finding"] == "device_makes_it_worse"
        result = judge(one_port(-0.99), now, first_bypassed=of_ohm(dipole_ohm(6.5e6)))
        assert result.summary["bypassed_since_commissioning"] == "changed"
        assert result.summary["finding"] == "inconclusive"
        assert judge(one_port(-0.99), then, first_bypassed=then).summary["finding"] == "device_makes_it_worse"


def test_total_reflection_is_bad_and_silent():
    result = judge(one_port(1.0), one_port(np.where(FREQ_HZ < 10e6, 0.1, 1.001)), bands=BANDS)
    assert [band["finding"] for band in result.band_metrics] == ["device_makes_it_worse", "inconclusive"]
    assert result.band_metrics[0]["swr_through"]["worst"] is None
    assert sum(flag.code == "undefined_points" for flag in result.flags) == 2


def test_both_sweeps_are_needed_with_s11():
    with pytest.raises(BenchnightError) as missing:
        in_situ.compute(request("in_situ", None, 1, sweep=one_port(0.1)))
    assert (missing.value.code, missing.value.field) == ("sweep.missing", "sweep_bypassed")
    with pytest.raises(BenchnightError) as column:
        in_situ.compute(
            request("in_situ", None, 1, sweep=one_port(0.1), sweep_bypassed=flat([0.1]).without(0, 0))
        )
    assert (column.value.code, column.value.field) == ("sweep.not_measured", "sweep_bypassed")


def test_only_the_asked_bands_have_figures_and_findings():
    antenna = of_ohm(dipole_ohm())
    result = judge(antenna, antenna, bands=BANDS, antenna_bands=("40M",))
    assert [view.band.name for view in result.grid.views] == ["40m"]
    assert len(result.band_metrics) == 1 and "antenna_bands_missing" not in codes(result.flags)


def test_without_the_bands_there_are_figures_and_no_finding():
    antenna = of_ohm(dipole_ohm())
    result = judge(antenna, antenna, bands=BANDS, antenna_bands=())
    assert len(result.band_metrics) == 2 and result.band_metrics[0]["swr_through"]["worst"] > 1
    assert [band["finding"] for band in result.band_metrics] == [None, None]
    assert result.summary["finding"] is None
    assert "antenna_bands_missing" in codes(result.flags)


def test_a_band_that_no_plan_has_is_refused():
    antenna = of_ohm(dipole_ohm())
    with pytest.raises(BenchnightError, match="no band '11m'") as unknown:
        judge(antenna, antenna, bands=BANDS, antenna_bands=("40m", "11m"))
    assert (unknown.value.code, unknown.value.field) == ("in_situ.antenna_bands", "antenna_bands")


def test_the_jumpers_figure_of_a_4_1_is_referred_to_200_ohm():
    """200 ohm on 50 is an SWR of 4, on its own 200 of 1; 100 ohm is 2 (closed form)."""
    for antenna, swr in ((200.0, 1.0), (100.0, 2.0), (400.0, 2.0)):
        (band,) = judge(of_ohm(antenna / 4), of_ohm(antenna), 4).band_metrics
        assert band["swr_bypassed"]["worst"] == pytest.approx(swr, abs=1e-9)


def test_without_phase_the_jumpers_figure_of_a_4_1_is_not_known():
    flat_size = replace(one_port(0.6), magnitude_only=True)
    (band,) = judge(of_ohm(50.0), flat_size, 4).band_metrics
    assert band["swr_bypassed"]["worst"] is None
