"""The mirror and `back_to_back`: like devices, crossed joints, uneven splits, published pair values."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import skrf

from measurements.errors import BenchnightError
from measurements.rf.loss import back_to_back
from tests.rf.method_requests import codes, flat, loss_request
from tests.rf.transformer_simulation import (
    FREQ_HZ,
    ONE_WAY,
    UNEVEN,
    ended,
    good,
    pair,
    poor,
    swept,
    true_loss_db,
)


@pytest.mark.parametrize("design", [good(4), poor(4, near=0.0), poor(49, far=1.0)])
def test_sum_and_difference_are_one_device_open_and_shorted(design):
    # Bartlett's bisection theorem, on a scikit-rf simulation
    both = pair(design, design)
    found = back_to_back.compute_ends(both.s[:, 0, 0], both.s[:, 1, 0])
    assert np.allclose(found.far_open, ended(design, "open").s[:, 0, 0], atol=1e-5)
    assert np.allclose(found.far_short, ended(design, "short").s[:, 0, 0], atol=1e-5)


def test_the_published_lossy_pair():
    # computed independently: two lossy 4:1 models back to back in 50 ohm; one has IL 0.536791 = ML 0.005767 +
    # DL 0.531025
    curve = back_to_back.compute_loss(
        loss_request("back_to_back", 4, sweep=flat([0.066578, 0.884760], [0.884760, 0.066578]))
    )
    assert np.allclose(curve.halved_db, 0.531745, atol=3e-6)  # near DL, not IL
    # that model is not alike from both ends (5 ohm at one, 2000 ohm at the other): within the uncertainty
    assert np.all(np.abs(curve.loss_db - 0.536791) < curve.uncertainty_db)
    # closed with the load's reflection (S11 0.03642773 in 200 ohm, same source) it is exact
    closed = back_to_back.compute_loss(
        loss_request(
            "back_to_back",
            4,
            sweep=flat([0.066578, 0.884760], [0.884760, 0.066578]),
            far_load=flat([0.03642773]),
            load_ohm=200.0,
        )
    )
    assert np.allclose(closed.loss_db, 0.536791, atol=2e-5)
    assert np.allclose(closed.mismatch_db, 0.005767, atol=2e-6)
    assert np.allclose(closed.dissipative_db, 0.531025, atol=2e-5)


@pytest.mark.parametrize("ratio", [4, 9, 49])
@pytest.mark.parametrize("make", [good, poor])
def test_exact_where_both_ends_are_alike(ratio, make):
    design = make(ratio)
    curve = back_to_back.compute_loss(
        loss_request("back_to_back", ratio, sweep=swept(pair(design, design), unmeasured=ONE_WAY))
    )
    assert np.allclose(curve.loss_db, true_loss_db(design), atol=1e-5)
    assert np.allclose(curve.mismatch_db + curve.dissipative_db, curve.loss_db)
    assert np.abs(curve.halved_db - curve.loss_db).max() > 0.02


@pytest.mark.parametrize("ratio", [4, 49])
@pytest.mark.parametrize(("near", "far"), UNEVEN[1:])
def test_uneven_devices_lie_within_the_uncertainty_and_far_load_closes_it(ratio, near, far):
    design = poor(ratio, near=near, far=far)
    sweeps = {"sweep": swept(pair(design, design), unmeasured=ONE_WAY)}
    open_ended = back_to_back.compute_loss(loss_request("back_to_back", ratio, **sweeps))
    error_db = np.abs(open_ended.loss_db - true_loss_db(design))
    assert error_db.max() > 0.05  # the even split is wrong here ...
    assert np.all(error_db <= open_ended.uncertainty_db)  # ... and the result says how far
    closed = back_to_back.compute_loss(
        loss_request(
            "back_to_back",
            ratio,
            **sweeps,
            far_load=swept(ended(design, 50.0 * ratio)),
            load_ohm=50.0 * ratio,
        )
    )
    assert np.allclose(closed.loss_db, true_loss_db(design), atol=1e-5)
    assert "far_load" in closed.assumption
    assert "far_load" not in open_ended.assumption


def test_lopsided_formulas_are_the_two_extremes():
    # closed form: all series impedance first, or all shunt admittance first, in ABCD; ideal ratio taken out
    z, y = 0.3 + 0.4j, 0.2 - 0.5j
    for abcd, formula in (
        (np.array([[1 + z * y, z], [y, 1]]), back_to_back.estimate_load_series_first),
        (np.array([[1, z], [y, 1 + z * y]]), back_to_back.estimate_load_shunt_first),
    ):
        (a, b), (c, d) = abcd
        seen = [(top - bottom) / (top + bottom) for top, bottom in ((a, c), (b, d), (a + b, c + d))]
        assert np.allclose(formula(np.array(seen[0]), np.array(seen[1])), seen[2])
    assert np.allclose(back_to_back.estimate_load_series_first(np.array(1 + 0j), np.array(-1 + 0j)), 0)
    assert np.allclose(back_to_back.estimate_load_shunt_first(np.array(1 + 0j), np.array(-1 + 0j)), 0)


@pytest.mark.parametrize("design", [good(4), poor(9), poor(49)])
def test_crossed_wires_at_the_joint_are_noticed_and_taken_out(design):
    straight = pair(design, design)
    crossed = straight.copy()
    crossed.s = np.array(straight.s) * np.array([[1, -1], [-1, 1]])
    assert not back_to_back.is_crossed(FREQ_HZ, straight.s[:, 1, 0])
    curves = [
        back_to_back.compute_loss(loss_request("back_to_back", design.ratio, sweep=swept(network)))
        for network in (straight, crossed)
    ]
    assert np.allclose(curves[0].loss_db, curves[1].loss_db)
    assert "crossed_joint" in codes(curves[1].flags)
    assert "crossed_joint" not in codes(curves[0].flags)


def test_long_lines_are_not_taken_for_crossed_wires():
    # scikit-rf: 3 m of 50-ohm line in each device turns S21 by more than half a turn within the sweep
    line = skrf.media.DefinedGammaZ0(
        frequency=skrf.Frequency(1, 30, 401, unit="MHz"), z0=50.0, gamma=1j * 2 * np.pi * FREQ_HZ / 2e8
    )
    long = line.line(6, "m")
    assert np.real(long.s[:, 1, 0]).min() < -0.9
    assert not back_to_back.is_crossed(FREQ_HZ, long.s[:, 1, 0])


def test_devices_that_differ_a_little_give_their_mean():
    # own bound: within 0.06 dB
    one, other = poor(4), replace(poor(4), leakage_h=240e-9, loss_ohm=900.0)
    mean_db = (true_loss_db(one) + true_loss_db(other)) / 2
    curve = back_to_back.compute_loss(loss_request("back_to_back", 4, sweep=swept(pair(one, other))))
    assert np.abs(curve.loss_db - mean_db).max() < 0.06
    assert np.abs(curve.halved_db - mean_db).max() > 0.1


def test_without_s11_only_half_of_the_pair_is_given():
    sweep = swept(pair(poor(4), poor(4)), unmeasured=(*ONE_WAY, (0, 0)))
    for given in (sweep, replace(swept(pair(poor(4), poor(4))), magnitude_only=True)):
        curve = back_to_back.compute_loss(loss_request("back_to_back", 4, sweep=given))
        assert np.array_equal(curve.loss_db, curve.halved_db)
        assert np.allclose(curve.loss_db, -10 * np.log10(np.abs(sweep.s[:, 1, 0])))
        assert curve.mismatch_db is None
        # trade page, 3.3: a poor pair's halved reading is wrong by 0.3 to 0.8 dB
        assert curve.uncertainty_db.max() > 0.3
        assert "halved_only" in codes(curve.flags)


def test_an_ideal_pair_and_a_broken_one():
    ideal = back_to_back.compute_loss(loss_request("back_to_back", 9, sweep=flat([0, 1], [1, 0])))
    assert np.allclose(ideal.loss_db, 0)
    broken = back_to_back.compute_loss(loss_request("back_to_back", 9, sweep=flat([1, 0], [0, 1])))
    assert np.isnan(broken.loss_db).all()
    assert np.isnan(broken.halved_db).all()


def test_s21_must_be_there():
    with pytest.raises(BenchnightError) as refused:
        back_to_back.compute_loss(
            loss_request("back_to_back", 4, sweep=swept(pair(good(4), good(4)), unmeasured=((1, 0),)))
        )
    assert refused.value.code == "sweep.not_measured"
