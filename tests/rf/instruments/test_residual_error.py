"""Propagation of a residual reflection error, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.rf.instruments import residual_error
from measurements.rf.networks import two_port


def loss_of(*given):
    return two_port.loss_db(np.prod(given, axis=0))


def test_the_largest_change_of_a_product():
    # closed form: |g| = 0.5 moved by 0.01 towards zero is -20 log10(0.49/0.5); two factors add up
    half = np.full(3, 0.5 + 0j)
    one = residual_error.largest_change_db(loss_of, (half,), 0.01)
    assert np.allclose(one, -20 * np.log10(0.49 / 0.5))
    both = residual_error.largest_change_db(loss_of, (half, half), 0.01)
    assert np.allclose(both, 2 * one)
    assert np.allclose(residual_error.largest_change_db(loss_of, (half,), 0.0), 0)


def test_eight_directions_come_within_eight_percent_of_all():
    # the worst phase of an arbitrary value lies at most 22.5 degrees from one that is tried: cos 22.5 = 0.924
    rng = np.random.default_rng(1)
    value = 0.5 * np.exp(2j * np.pi * rng.uniform(size=200))
    found = residual_error.largest_change_db(loss_of, (value,), 0.01)
    worst = -20 * np.log10(0.49 / 0.5)
    assert found.max() <= worst + 1e-12
    assert found.min() >= 0.92 * worst


def test_an_undefined_loss_promises_nothing():
    assert np.isnan(residual_error.largest_change_db(loss_of, (np.array([0j]),), 0.01)).all()


@pytest.mark.parametrize(("s11", "s22"), [(0.0, 0.0), (0.3, 0.6), (1.0, 1.0)])
def test_a_transmission_between_imperfect_ports(s11, s22):
    # common practice: each port's residual match against what it sees, -20 log10(1 - e |G|)
    expected = -20 * np.log10(1 - 0.01 * s11) - 20 * np.log10(1 - 0.01 * s22)
    assert float(residual_error.transmission_change_db(s11, s22, 0.01)) == pytest.approx(expected)
