"""The match of port 2 is taken out of a sweep from one end; devices and signal flow are scikit-rf's."""

from __future__ import annotations

import numpy as np
import pytest
import skrf

from measurements.rf.analyser import Analyser
from measurements.rf.instruments import port2_match
from measurements.rf.loss import direct, known_partner
from measurements.rf.request import LossCurve
from measurements.rf.sweeps.sweep import Sweep
from tests.rf import transformer_simulation as transformers
from tests.rf.method_requests import loss_request
from tests.rf.transformer_simulation import FREQ_HZ, FREQUENCY, Design

ONE_PATH = Analyser(paths=1, drift_db=0.0, noise=0.0, resistor_percent=1.0)
GOOD = Design(1, 15e-6, 3000.0, 60e-9, 20e-12, 0.1, near=0.3, far=0.7)
POOR = Design(1, 4e-6, 700.0, 300e-9, 60e-12, 0.4, near=0.2, far=0.8)


def read_one_path(network: skrf.Network, g2: complex) -> Sweep:
    """What port 1 reads with port 2 of reflection g2: scikit-rf's cascade, closed form."""
    load = skrf.Network(frequency=FREQUENCY, s=np.full((len(FREQ_HZ), 1, 1), g2), z0=50)
    s = np.zeros((len(FREQ_HZ), 2, 2), complex)
    s[:, 0, 0] = (network**load).s[:, 0, 0]
    s[:, 1, 0] = network.s[:, 1, 0] / (1 - network.s[:, 1, 1] * g2)
    measured = np.array([[True, False], [True, False]])
    return Sweep(FREQ_HZ, s, np.full(2, 50.0), measured)


def through(g2: complex) -> Sweep:
    return read_one_path(
        skrf.Network(frequency=FREQUENCY, s=np.tile([[0, 1], [1, 0]], (401, 1, 1)), z0=50), g2
    )


@pytest.mark.parametrize("design", [GOOD, POOR])
@pytest.mark.parametrize("g2", [0.1, 0.1j, -0.1, 0.06 - 0.08j])
def test_direct_loses_the_match_of_port_2_with_the_through(design, g2):
    truth_db = transformers.true_loss_db(design)
    sweep = read_one_path(transformers.device(design), g2)
    plain = direct.compute_loss(loss_request("direct", 1, sweep=sweep, analyser=ONE_PATH))
    given = loss_request("direct", 1, sweep=sweep, jig_through=through(g2), analyser=ONE_PATH)
    corrected = direct.compute_loss(given)
    error_db = np.abs(corrected.loss_db - truth_db)
    assert error_db.max() < 0.15 * np.abs(plain.loss_db - truth_db).max() + 0.01
    assert (error_db <= corrected.uncertainty_db).all()
    assert np.median(corrected.uncertainty_db) < np.median(plain.uncertainty_db)
    assert "port 2 was taken out" in corrected.assumption
    # the split is of the corrected reflection
    assert np.allclose(corrected.mismatch_db + corrected.dissipative_db, corrected.loss_db)
    own = -10 * np.log10(1 - np.abs(transformers.device(design).s[:, 0, 0]) ** 2)
    assert np.abs(corrected.mismatch_db - own).max() < 0.03


@pytest.mark.parametrize("ratio", [1, 4, 49])
@pytest.mark.parametrize("g2", [0.1, -0.1j])
def test_a_known_partner_loses_the_match_of_port_2_with_the_through(ratio, g2):
    one, other = (GOOD, GOOD) if ratio == 1 else (transformers.good(ratio), transformers.good(ratio))
    pair = transformers.pair(one, other)
    truth_db = -pair.s_db[:, 1, 0] - transformers.true_loss_db(other)  # but for how the two meet
    stored = LossCurve(FREQ_HZ, transformers.true_loss_db(other), "stored")
    sweep = read_one_path(pair, g2)
    plain = known_partner.compute_loss(
        loss_request("known_partner", ratio, sweep=sweep, partner=stored, analyser=ONE_PATH)
    )
    given = loss_request(
        "known_partner", ratio, sweep=sweep, partner=stored, analyser=ONE_PATH, jig_through=through(g2)
    )
    corrected = known_partner.compute_loss(given)
    error_db = np.abs(corrected.loss_db - truth_db)
    assert error_db.max() < 0.1 * np.abs(plain.loss_db - truth_db).max() + 0.005
    assert "port 2 was taken out" in corrected.assumption


def test_the_far_reflection_is_that_of_a_lossless_device_exactly():
    """S is unitary, so S22 = -conj(S11) S21/conj(S21) (closed form), however lopsided the device."""
    lossless = Design(1, 4e-6, 1e12, 300e-9, 60e-12, 0.0, near=0.0, far=1.0)
    s = transformers.device(lossless).s
    s22, slack = port2_match.estimate_far_reflection(s[:, 0, 0], s[:, 1, 0])
    assert np.abs(s22 - s[:, 1, 1]).max() < 1e-6 and slack.max() < 1e-6


@pytest.mark.parametrize("ratio", [1, 4, 9])
def test_the_far_reflection_lies_within_its_slack_for_devices_of_any_loss(ratio):
    """Within twice of it always, but for what is of second order in the heat; within it in most cases."""
    rng = np.random.default_rng(4)
    off = []
    for _ in range(60):
        least, most = np.log([3e-6, 300.0, 4e-8, 5e-12]), np.log([2e-5, 4000.0, 3e-7, 8e-11])
        parts = np.exp(rng.uniform(least, most))
        design = Design(ratio, *parts, 0.3, near=rng.uniform(), far=rng.uniform())
        s = transformers.device(design).s
        transformers.device.cache_clear()
        s22, slack = port2_match.estimate_far_reflection(s[:, 0, 0], s[:, 1, 0])
        off.append(np.abs(s22 - s[:, 1, 1]) / slack)
    off = np.concatenate(off)
    assert np.mean(off <= 2.05) > 0.99
    assert np.mean(off <= 1) > 0.85


def test_nothing_is_taken_out_where_phase_or_s11_is_missing_or_both_ports_are_driven():
    sweep = read_one_path(transformers.device(GOOD), 0.1)
    closed = through(0.1)
    two_paths = Analyser(paths=2)
    assert port2_match.correct_forward(closed, sweep, ONE_PATH) is not None
    assert port2_match.correct_forward(closed, sweep, two_paths) is None
    assert port2_match.correct_forward(None, sweep, ONE_PATH) is None
    assert port2_match.correct_forward(closed, sweep.without(0, 0), ONE_PATH) is None
