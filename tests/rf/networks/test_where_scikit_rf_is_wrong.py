"""Singular cases: the number that scikit-rf 2.2 gives without a word, beside the right one."""

from __future__ import annotations

import numpy as np
import pytest
import skrf

from measurements.rf.loss import series_resistor
from measurements.rf.networks import series_through, three_port, two_port
from tests.rf import benches
from tests.rf.method_requests import request

THROUGH = np.array([[[0, 1], [1, 0]]], complex)
IDEAL_4_TO_1 = np.array([[[-0.6, 0.8], [0.8, 0.6]]], complex)  # closed form, in 50 ohm
NO_DEVICE = np.array([[[1, 0], [0, 1]]], complex)  # two ports that nothing connects


@pytest.mark.parametrize(
    ("s", "right"),
    [(THROUGH, [[0.6, 0.8], [0.8, -0.6]]), (IDEAL_4_TO_1, [[0, 1], [1, 0]])],
    ids=["a through", "an ideal transformer"],
)
def test_renormalising_what_has_no_z_matrix(s, right):
    # closed forms in 50 and 200 ohm
    theirs = skrf.network.renormalize_s(s, [50, 50], [50, 200], s_def="power")[0]
    assert 1e-9 < np.abs(theirs - right).max() < 1e-6
    ours = two_port.renormalise_s(s, (50, 50), (50, 200))[0]
    assert np.abs(ours - right).max() < 1e-15


def test_a_series_impedance_has_no_z_matrix_and_renormalises_by_its_closed_form():
    z_ohm = np.array([3000 + 2000j])
    s = series_through.build_series_s(z_ohm)
    right = 2 * np.sqrt(50 * 200) / (250 + z_ohm[0])
    theirs = skrf.network.renormalize_s(s, [50, 50], [50, 200], s_def="power")[0, 1, 0]
    assert abs(theirs - right) > 1e-10
    assert two_port.renormalise_s(s, (50, 50), (50, 200))[0, 1, 0] == pytest.approx(right, abs=1e-15)


def test_an_open_has_no_impedance():
    assert abs(skrf.network.s2z(np.ones((1, 1, 1)), 50, s_def="power")[0, 0, 0]) > 1e9
    assert abs(skrf.tlineFunctions.Gamma0_2_zl(50, 1.0)[0]) > 1e12
    assert np.isnan(two_port.impedance_ohm(1.0, 50.0))
    assert np.isnan(series_through.z_from_s11(np.array([1 + 0j]), 50.0)[0])


def test_a_through_is_no_impedance_and_has_no_admittance():
    sweep = benches.two_port(np.array([1e6]), THROUGH)
    assert abs(skrf.network.s2y(THROUGH, 50, s_def="power")[0, 1, 0]) > 1e6
    assert series_through.z_from_two_port(sweep)[0] == 0
    assert np.isnan(series_through.y_from_two_port(sweep)[0])


def test_ports_that_nothing_connects_have_no_finite_series_impedance():
    sweep = benches.two_port(np.array([1e6]), NO_DEVICE)
    with np.errstate(divide="ignore", invalid="ignore"):
        assert not np.isfinite(skrf.network.s2a(NO_DEVICE, 50)).any()
    assert np.isnan(series_through.z_from_two_port(sweep)[0])
    assert series_through.y_from_two_port(sweep)[0] == 0


def test_taking_off_a_series_resistor_of_twice_the_reference():
    """An ideal 3:1 transformer behind 100 ohm: the device alone passes everything into 150 ohm.

    `skrf.network.inv` needs the S-parameters of -100 ohm in 50 ohm, which do not exist; ABCD has them.
    """
    resistor = series_through.build_series_s(np.array([100 + 0j]))
    with np.errstate(divide="ignore", invalid="ignore"), pytest.raises(np.linalg.LinAlgError):
        raise_unless_finite(skrf.network.inv(resistor))
    turns = np.sqrt(3)
    device = np.array([[[1 / turns, 0], [0, turns]]], complex)
    measured = two_port.abcd_to_s(device @ two_port.build_series_abcd(100.0, 1), (50, 50))
    alone = series_resistor.remove_series_resistor(measured, np.array([50.0, 50.0]), 100.0, 150.0)
    assert np.allclose(alone[0], [[0, 1], [1, 0]], atol=1e-14)


def raise_unless_finite(s) -> None:
    """One error for a result that is not finite and for an inverse that does not exist."""
    if not np.isfinite(s).all() or np.abs(s).max() > 1e12:
        raise np.linalg.LinAlgError


def test_every_point_that_cannot_be_renormalised_is_nan_and_the_others_keep_their_number():
    # only an active device: an input of -12.5 ohm in 12.5 ohm, S11 = -1/0.6 in 50
    s = np.array([[[-1 / 0.6, 0], [0, 0]], THROUGH[0], [[0, 0], [0, -1 / 0.6]]], complex)
    ours = two_port.renormalise_s(s, (50, 50), (12.5, 12.5))
    assert np.isnan(ours[[0, 2]]).all()
    assert np.allclose(ours[1], THROUGH[0], atol=1e-15)
    assert np.isnan(two_port.renormalise_s(s[:1], (50, 50), (12.5, 12.5))).all()


@pytest.mark.parametrize("ports", [1, 2, 3, 4])
def test_the_order_of_the_ports_stays(ports):
    rng = np.random.default_rng(ports)
    s = 0.3 * (rng.normal(size=(5, ports, ports)) + 1j * rng.normal(size=(5, ports, ports))) / ports
    old, new = 40.0 + 10 * np.arange(ports), 300.0 - 50 * np.arange(ports)
    expected = skrf.network.renormalize_s(s, old, new, s_def="power")
    assert np.abs(two_port.renormalise_s(s, old, new) - expected).max() < 1e-12


def test_reflections_measured_twice_are_averaged_where_scikit_rf_keeps_the_last():
    freq_hz = np.array([1e6, 2e6])
    s = np.full((2, 2, 2), 0.1 + 0j)
    other = s.copy()
    other[:, 0, 0] = 0.3
    frequency = skrf.Frequency.from_f(freq_hz, unit="hz")
    networks = [
        skrf.Network(frequency=frequency, s=each, z0=50, name=name)
        for name, each in (("12", s), ("13", other))
    ]
    assert skrf.network.n_twoports_2_nport(networks, nports=3).s[0, 0, 0] == pytest.approx(0.3)
    sweeps = {"sweep_12": benches.two_port(freq_hz, s), "sweep_13": benches.two_port(freq_hz, other)}
    device = three_port.assemble_three_port(request("balance", None, 1, **sweeps))
    assert device.s[0, 0, 0] == pytest.approx(0.2)
    assert not device.measured[1, 2] and not device.measured[2, 1]
    assert (device.s[:, 1, 2] == 0).all()
