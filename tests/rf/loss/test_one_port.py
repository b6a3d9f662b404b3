"""`one_port`: the whole two-port out of three reflections."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.errors import BenchnightError
from measurements.rf.analyser import Analyser
from measurements.rf.analysis import analyse
from measurements.rf.loss import one_port
from measurements.rf.networks import two_port
from tests.rf import transformer_simulation
from tests.rf.method_requests import codes, flat, loss_request
from tests.rf.transformer_simulation import BANDS, UNEVEN, ended, poor, swept, true_loss_db


def three_sweeps(design, load_ohm, rng=None):
    ends = {"far_open": "open", "far_short": "short", "far_load": load_ohm}
    return {role: swept(ended(design, end), rng) for role, end in ends.items()}


@pytest.mark.parametrize("ratio", [4, 9, 49])
@pytest.mark.parametrize(("near", "far"), UNEVEN)
def test_exact_without_noise_whatever_the_device(ratio, near, far):
    # independent simulation: scikit-rf
    design = poor(ratio, near=near, far=far)
    curve = one_port.compute_loss(
        loss_request("one_port", ratio, **three_sweeps(design, 50.0 * ratio), load_ohm=50.0 * ratio)
    )
    assert np.allclose(curve.loss_db, true_loss_db(design), atol=1e-6)
    into_nominal = transformer_simulation.device(design).copy()
    into_nominal.renormalize([50, 50 * ratio])
    mismatch_db = -10 * np.log10(1 - np.abs(into_nominal.s[:, 0, 0]) ** 2)
    assert np.allclose(curve.mismatch_db, mismatch_db, atol=1e-6)
    assert np.allclose(curve.dissipative_db + curve.mismatch_db, curve.loss_db)
    assert codes(curve.flags) == set()


def test_a_load_off_nominal_is_taken_out_exactly():
    design = poor(9)
    sweeps = three_sweeps(design, 470.0)
    curve = one_port.compute_loss(loss_request("one_port", 9, **sweeps, load_ohm=470.0))
    assert np.allclose(curve.loss_db, true_loss_db(design), atol=1e-6)
    assumed = one_port.compute_loss(loss_request("one_port", 9, **sweeps))
    assert "load_assumed" in codes(assumed.flags)
    assert np.abs(assumed.loss_db - true_loss_db(design)).max() > 0.01


def test_the_impedance_form_of_the_trade_page_agrees():
    # own derivation: q = R (Zo-Zl)/(Zl-Zs), C = 1/sqrt((Zo-Zs) q), D = qC, A = Zo C, B = Zs D
    sweeps = three_sweeps(poor(4), 210.0)
    gamma = [sweeps[role].s[:, 0, 0] for role in one_port.FAR_SIDE_ROLES]
    zo, zs, zl = (two_port.impedance_ohm(g, 50.0) for g in gamma)
    q = 210.0 * (zo - zl) / (zl - zs)
    c = 1 / two_port.continuous_sqrt((zo - zs) * q)
    abcd = two_port.stack_two_port(zo * c, zs * q * c, c, q * c)
    s = one_port.refer_to_nominal_load(*gamma, z0_ohm=50.0, load_ohm=210.0, nominal_ohm=200.0)
    other = two_port.abcd_to_s(abcd, (50.0, 200.0))
    assert np.allclose(np.abs(other), np.abs(s), atol=1e-9)
    assert np.allclose(other[:, 0, 0], s[:, 0, 0], atol=1e-9)


def test_an_ideal_transformer_is_an_ordinary_point():
    # Zo is infinite and Zs zero; closed form: no loss
    curve = one_port.compute_loss(
        loss_request(
            "one_port",
            4,
            far_open=flat([1]),
            far_short=flat([-1]),
            far_load=flat([0]),
            load_ohm=200.0,
            analyser=Analyser(drift_db=0.0, noise=0.0),
        )
    )
    assert np.allclose(curve.loss_db, 0)
    assert np.allclose(curve.mismatch_db, 0)
    # first order by hand: dP/P = dGo/2 - dGs/2; directivity cancels, source match too, tracking leaves
    # 4.343 x 0.01 (trade page, 3.3: 0.02 is 0.08 dB) and two connections 4.343 x 0.002/sqrt(2)
    assert np.allclose(curve.uncertainty_db, np.hypot(0.0434, 0.0061), atol=1e-3)


@pytest.mark.parametrize("stuck", [1, -1, 0.3 + 0.2j])
def test_a_device_that_hides_its_far_side_has_no_loss_figure(stuck):
    curve = one_port.compute_loss(
        loss_request(
            "one_port",
            4,
            far_open=flat([stuck]),
            far_short=flat([stuck]),
            far_load=flat([stuck]),
            load_ohm=200,
        )
    )
    assert np.isnan(curve.loss_db).all()
    assert np.isnan(curve.uncertainty_db).all()


@given(seed=st.integers(0, 10_000))
def test_any_reciprocal_passive_two_port_comes_back(seed):
    rng = np.random.default_rng(seed)
    s = rng.standard_normal((30, 2, 2)) + 1j * rng.standard_normal((30, 2, 2))
    s = (
        0.9
        * (s + s.transpose(0, 2, 1))
        / np.linalg.norm(s + s.transpose(0, 2, 1), ord=2, axis=(1, 2))[:, None, None]
    )

    def seen(end):
        return s[:, 0, 0] + s[:, 0, 1] * s[:, 1, 0] * end / (1 - s[:, 1, 1] * end)

    found = one_port.reconstruct_two_port(seen(1), seen(-1), seen(0))
    assert np.allclose(found[:, 0, 0], s[:, 0, 0])
    assert np.allclose(found[:, 1, 1], s[:, 1, 1], atol=1e-7)
    assert np.allclose(found[:, 1, 0] ** 2, s[:, 1, 0] ** 2, atol=1e-7)


def test_sweeps_mixed_up_are_flagged():
    sweeps = three_sweeps(poor(4), 200.0)
    mixed = {**sweeps, "far_open": sweeps["far_load"], "far_load": sweeps["far_open"]}
    result = analyse(replace(loss_request("one_port", 4, **mixed, load_ohm=200.0), bands=BANDS)).result
    assert "impossible_gain" in {flag["code"] for flag in result["flags"]}
    assert {(band["meets"], band["decision"]) for band in result["bands"]} == {(None, "not_judged")}


def test_what_is_missing_is_named():
    sweeps = three_sweeps(poor(4), 200.0)
    with pytest.raises(BenchnightError) as missing:
        one_port.compute_loss(
            loss_request("one_port", 4, far_open=sweeps["far_open"], far_load=sweeps["far_load"])
        )
    assert (missing.value.code, missing.value.field) == ("sweep.missing", "far_short")
    assert missing.value.detail == "The sweep far_short is missing. Add it and send again."
    short = swept(ended(poor(4), "short"))
    for changed, code in (
        (replace(short, freq_hz=short.freq_hz * 1.001), "sweep.grid_differs"),
        (replace(short, z0_ohm=np.array([75.0])), "sweep.reference_differs"),
        (replace(short, magnitude_only=True), "sweep.phase_needed"),
        (short.without(0, 0), "sweep.not_measured"),
    ):
        with pytest.raises(BenchnightError) as refused:
            one_port.compute_loss(loss_request("one_port", 4, **{**sweeps, "far_short": changed}))
        assert (refused.value.code, refused.value.field) == (code, "far_short")
    with pytest.raises(BenchnightError) as load:
        one_port.compute_loss(loss_request("one_port", 4, **sweeps, load_ohm=0.0))
    assert (load.value.code, load.value.field) == ("insertion_loss.load_ohm", "load_ohm")
