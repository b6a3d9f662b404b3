"""Conversions between S and one series impedance, against published formulas and computed rows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.errors import BenchnightError
from measurements.rf.networks import series_through
from tests.rf import benches

# Series impedance in a 50-ohm system: Z(TRANS) of the Advantest R3765/67G Series Operation Manual, p. 7-13,
# worked out independently: Z, S21, dB.
SERIES = [
    (50, 0.666667, 3.5218),
    (100, 0.5, 6.0206),
    (1000, 0.090909, 20.8279),
    (5000, 0.019608, 34.1514),
    (10000, 0.009901, 40.0864),
    (500j, 0.038462 - 0.192308j, 14.1497),
    (2000 + 3000j, 0.0156600 - 0.0223714j, 31.2743),
]

# Z(REFL) of the same page.
REFLECTED = [
    (25, -0.333333),
    (75, 0.2),
    (200, 0.6),
    (450, 0.8),
    (50 - 50j, 0.2 - 0.4j),
    (100 + 100j, 0.538462 + 0.307692j),
]


@pytest.mark.parametrize(("z", "s21", "rejection_db"), SERIES)
def test_series_impedance_from_transmission(z, s21, rejection_db):
    exact = series_through.build_series_s(np.array([z], complex))[:, 1, 0]
    assert exact[0] == pytest.approx(s21, abs=6e-7)
    assert series_through.z_from_s21(exact, 50, 50)[0] == pytest.approx(z)
    assert series_through.rejection_db(exact)[0] == pytest.approx(rejection_db, abs=6e-5)


def test_phase_of_a_lossy_series_impedance():
    s21 = series_through.build_series_s(np.array([2000 + 3000j]))[0, 1, 0]
    assert np.angle(s21, deg=True) == pytest.approx(-55.008, abs=5e-4)


@pytest.mark.parametrize(("z", "s11"), REFLECTED)
def test_impedance_from_reflection(z, s11):
    assert series_through.z_from_s11(np.array([s11], complex), 50)[0] == pytest.approx(z, rel=1e-5)


@pytest.mark.parametrize(
    ("rejection_db", "ohm"), [(10, 216), (15, 462), (20, 900), (25, 1678), (30, 3062), (40, 9900)]
)
def test_resistive_equivalents_of_rejection(rejection_db, ohm):
    # From the formula itself; 900 ohm for 20 dB is common practice.
    got = series_through.rejection_db(series_through.compute_transmission(np.array([ohm + 0j]), 100.0))
    assert got[0] == pytest.approx(rejection_db, abs=0.01)


def test_reactive_equivalent_of_20_db():
    got = series_through.rejection_db(series_through.compute_transmission(np.array([995j]), 100.0))
    assert got[0] == pytest.approx(20, abs=0.001)


@pytest.mark.parametrize(
    ("z", "percent"), [(50, -3.4), (100, -2.3), (500, -1.37), (1000, -1.26), (5000, -1.17)]
)
def test_sensitivity_to_a_tenth_of_a_decibel(z, percent):
    # Computed independently: +0.1 dB in |S21| of a resistive device.
    s21 = series_through.build_series_s(np.array([z + 0j]))[:, 1, 0] * 10 ** (0.1 / 20)
    off = 100 * (series_through.z_from_s21(s21, 50, 50)[0].real / z - 1)
    assert off == pytest.approx(percent, abs=0.06)


@given(
    st.complex_numbers(min_magnitude=1, max_magnitude=1e5, allow_nan=False),
    st.floats(5, 500),
    st.floats(5, 500),
)
def test_unequal_references_by_an_independent_divider(z, z1, z2):
    z = complex(abs(z.real) + 0.1, z.imag)
    s21 = 2 * np.sqrt(z1 * z2) / (z1 + z2 + z)  # power waves of a source z1 and a load z2
    assert series_through.z_from_s21(np.array([s21]), z1, z2)[0] == pytest.approx(z, rel=1e-8)
    assert series_through.y_from_s21(np.array([s21]), z1, z2)[0] == pytest.approx(1 / z, rel=1e-8)


def test_full_two_port_leaves_out_what_the_jig_shunts_to_ground():
    freq = benches.linear_hz(21)
    m = benches.medium(freq)
    z = 800 + 1200j
    network = m.shunt_capacitor(30e-12) ** m.resistor(z) ** m.shunt_capacitor(15e-12)
    sweep = benches.two_port(freq, network.s)
    by_y21 = series_through.compute_series_impedance(sweep, "y21")
    assert by_y21 == pytest.approx(np.full(21, z), rel=1e-9)
    by_s21 = series_through.compute_series_impedance(sweep, "s21")
    assert abs(by_s21[-1] / z - 1) > 0.3  # what S21 alone would have made of it
    assert series_through.compute_series_admittance(sweep, "y21") == pytest.approx(
        np.full(21, 1 / z), rel=1e-9
    )


def test_y21_agrees_with_scikit_rf():
    freq = benches.linear_hz(51)
    m = benches.medium(freq)
    network = m.shunt_capacitor(10e-12) ** m.inductor(5e-6) ** m.resistor(30) ** m.shunt_capacitor(5e-12)
    expected = -1 / network.y[:, 1, 0]
    assert series_through.z_from_two_port(benches.two_port(freq, network.s)) == pytest.approx(
        expected, rel=1e-9
    )


def test_singular_points_are_nan_or_infinite_never_warnings():
    none, whole = np.array([0j]), np.array([1 + 0j])
    assert np.isnan(series_through.z_from_s21(none, 50, 50)[0])
    assert series_through.z_from_s21(whole, 50, 50)[0] == 0
    assert series_through.y_from_s21(none, 50, 50)[0] == 0
    assert np.isnan(series_through.y_from_s21(whole, 50, 50)[0])
    assert np.isnan(series_through.z_from_s11(whole, 50)[0])
    assert series_through.rejection_db(none)[0] == np.inf
    assert str(series_through.rejection_db(whole)[0]) == "0.0"
    assert np.isnan(series_through.compute_transmission(np.array([-100 + 0j]), 100.0)[0])


@pytest.mark.parametrize(
    ("measured", "wanted", "method"),
    [
        ([[1, 1], [1, 1]], None, "y21"),
        ([[1, 0], [1, 0]], None, "s21"),
        ([[0, 0], [1, 0]], None, "s21"),
        ([[1, 0], [0, 0]], None, "s11"),
        ([[1, 1], [1, 1]], "s21", "s21"),
        ([[1, 1], [1, 1]], "s11", "s11"),
    ],
)
def test_best_method_for_what_was_measured(measured, wanted, method):
    sweep = benches.two_port([1e6, 2e6], np.zeros((2, 2, 2)), measured)
    assert series_through.choose_impedance_method(sweep, wanted) == method


@pytest.mark.parametrize(
    ("measured", "wanted", "code"),
    [
        ([[0, 1], [0, 1]], None, "common_mode.no_column"),
        ([[1, 0], [1, 0]], "y21", "common_mode.method"),
        ([[1, 1], [1, 1]], "direct", "common_mode.method"),
    ],
)
def test_impossible_methods_are_refused(measured, wanted, code):
    with pytest.raises(BenchnightError) as caught:
        series_through.choose_impedance_method(
            benches.two_port([1e6, 2e6], np.zeros((2, 2, 2)), measured), wanted
        )
    assert caught.value.code == code
