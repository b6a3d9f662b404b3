"""The winding model against the maker's worked example, published A_L values and computed rows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.errors import BenchnightError
from measurements.rf.ferrites import ferrite_cores

# C. Parker (Fair-Rite), "Specifying a Ferrite for EMI Suppression", Conformity, June 2008, pp. 50-59:
# mix 73, beads OD/ID/height mm; frequency, mu', mu'' -> printed |Z|, Rs, X.
PARKER = [
    ((10, 0.8, 5), 100e3, 2500, 43.8, 3.97, 0.069, 3.97, 0.01),
    ((10, 0.8, 5), 900e3, 2100, 1014, 33.3, 14.48, 30.0, 0.002),
    ((5, 0.8, 10), 100e3, 2500, 43.8, 5.76, 0.100, 5.76, 0.011),
    ((5, 0.8, 10), 900e3, 2100, 1014, 48.1, 20.9, 43.3, 0.008),  # this row is printed 0.6 % low
]


@pytest.mark.parametrize(("size", "freq", "mu1", "mu2", "z", "r", "x", "tolerance"), PARKER)
def test_worked_example_of_the_maker(size, freq, mu1, mu2, z, r, x, tolerance):
    got = ferrite_cores.winding_z_ohm(
        np.array([freq]), np.array([mu1 - 1j * mu2]), 1, ferrite_cores.toroid_factor_m(*size)
    )
    assert abs(got[0]) == pytest.approx(z, rel=tolerance)
    assert got[0].real == pytest.approx(r, rel=tolerance)
    assert got[0].imag == pytest.approx(x, rel=tolerance)


# A_L from dimensions and effective dimensions: independent computation of the table in the trade's
# reference (L0 = 0.2 nH x h x ln(OD/ID)); mu 800, 850, 125, 1500 -> nH.
SIZES = [
    ((61, 35.55, 12.7), 1.3714, 1097.1, 1165.7, 171.4, 2057, 157.74, 144.53),
    ((35.55, 23, 12.7), 1.1060, 884.8, 940.1, 138.3, 1659, 78.45, 89.13),
    ((29, 19, 7.5), 0.6343, 507.4, 539.1, 79.3, 951, 36.95, 73.20),
    ((21, 13.2, 6.35), 0.5897, 471.7, 501.2, 73.7, 885, 24.32, 51.84),
    ((101.6, 75.2, 24.75), 1.4894, 1191.5, 1266.0, 186.2, 2234, 324.25, 273.57),
]


@pytest.mark.parametrize(("size", "l0", "al800", "al850", "al125", "al1500", "area", "length"), SIZES)
def test_a_l_of_toroids_from_dimensions(size, l0, al800, al850, al125, al1500, area, length):
    factor = ferrite_cores.toroid_factor_m(*size)
    for mu, nanohenry in ((1, l0), (800, al800), (850, al850), (125, al125), (1500, al1500)):
        assert ferrite_cores.a_l_h(mu, factor) * 1e9 == pytest.approx(nanohenry, rel=6e-4)
    assert area / length * 1e-3 == pytest.approx(factor, rel=3e-4)


@pytest.mark.parametrize(
    ("size", "published"), [((35.55, 23, 12.7), 885), ((29, 19, 7.5), 510), ((21, 13.2, 6.35), 470)]
)
def test_a_l_published_by_the_maker_for_mix_43(size, published):
    # Fair-Rite catalogue A_L of 5943002701, 5943001001, 5943000601 (second-hand), mu_i 800.
    assert ferrite_cores.a_l_h(800, ferrite_cores.toroid_factor_m(*size)) * 1e9 == pytest.approx(
        published, rel=0.006
    )


# Rows of the maker's tables of mixes 31 and 61 (MHz, mu', mu'') and what 12 turns on 61/35.55/12.7 make
# of them without stray capacitance (independent computation).
TWELVE_TURNS = [
    (1.0, 1400.65, 463.22, 574.8 + 1738.0j),
    (3.56, 590.00, 657.67, 2905.2 + 2606.3j),
    (7.20, 329.0, 444.33, 3969.7 + 2939.3j),
    (14.6, 206.0, 299.0, 5416.8 + 3732j),
]


@pytest.mark.parametrize(("mhz", "mu1", "mu2", "expected"), TWELVE_TURNS)
def test_twelve_turns_on_a_61_mm_toroid(mhz, mu1, mu2, expected):
    factor = ferrite_cores.toroid_factor_m(61, 35.55, 12.7)
    got = ferrite_cores.winding_z_ohm(np.array([mhz * 1e6]), np.array([mu1 - 1j * mu2]), 12, factor)
    assert got[0] == pytest.approx(expected, rel=1e-4)


def test_twelve_turns_of_mix_61_between_two_rows():
    table = ferrite_cores.Permeability(
        np.array([4.96e6, 7.11e6, 10.2e6]),
        np.array([124.562, 125.983, 129.098]),
        np.array([0.723, 0.953, 1.492]),
    )
    freq = np.array([7.2e6])
    got = ferrite_cores.winding_z_ohm(
        freq, table.at(freq), 12, ferrite_cores.toroid_factor_m(61, 35.55, 12.7)
    )
    assert got[0].real == pytest.approx(8.6, rel=0.01)
    assert got[0].imag == pytest.approx(1126.2, rel=1e-3)


def test_stray_capacitance_gives_the_textbook_parallel_resonance():
    inductance, capacitance = 20e-6, 2e-12
    resonance = 1 / (2 * np.pi * np.sqrt(inductance * capacitance))
    freq = np.array([0.99, 1.01]) * resonance
    z = ferrite_cores.add_stray_capacitance(freq, 5.0 + 2j * np.pi * freq * inductance, capacitance)
    assert z[0].imag > 0 > z[1].imag


def test_stray_capacitance_at_a_lossless_resonance_is_undefined_not_infinite():
    # w L = 1/(w C) exactly in binary: Z = j, w C = 1.
    z = ferrite_cores.add_stray_capacitance(np.array([1.0]), np.array([1j]), 1 / (2 * np.pi))
    assert np.isnan(z[0])


def test_nothing_is_extrapolated_beyond_the_table():
    table = ferrite_cores.Permeability(np.array([1e6, 1e7]), np.array([100.0, 50.0]), np.array([0.0, 60.0]))
    got = table.at(np.array([0.99e6, 1e6, 10**6.5, 1e7, 1.01e7]))
    assert np.isnan(got[[0, 4]]).all()
    assert got[1:4] == pytest.approx([100, 75 - 30j, 50 - 60j])
    assert table.covers(np.array([1e6, 1e7])) and not table.covers(np.array([1e6, 1.1e7]))


@given(st.floats(0.5, 20), st.integers(1, 30), st.integers(1, 30))
def test_impedance_scales_with_turns_squared_and_adds_over_cores(height, turns, stacked):
    freq, mu = np.array([7e6]), np.array([300 - 400j])
    one = ferrite_cores.toroid_factor_m(61, 35.55, height)
    stack = ferrite_cores.toroid_factor_m(61, 35.55, height * stacked)
    assert stack == pytest.approx(one * stacked)
    single = ferrite_cores.winding_z_ohm(freq, mu, 1, one)
    assert ferrite_cores.winding_z_ohm(freq, mu, turns, stack)[0] == pytest.approx(
        single[0] * turns**2 * stacked
    )


def test_end_check_names_the_turns_that_fit():
    a_l = ferrite_cores.a_l_h(1500, ferrite_cores.toroid_factor_m(61, 35.55, 12.7))
    right = ferrite_cores.compare_inductance(a_l * 144 * 0.9, a_l, 12)
    assert right.agrees and right.expected_h == pytest.approx(a_l * 144)
    wrong = ferrite_cores.compare_inductance(a_l * 121, a_l, 14)
    assert not wrong.agrees and wrong.turns_that_fit == pytest.approx(11)


@pytest.mark.parametrize("size", [(35, 61, 12), (61, 61, 12), (61, 0, 12), (61, 35, 0)])
def test_impossible_toroids_are_refused(size):
    with pytest.raises(BenchnightError) as caught:
        ferrite_cores.toroid_factor_m(*size)
    assert caught.value.code == "core.size"


def test_tables_out_of_order_are_refused():
    with pytest.raises(BenchnightError) as caught:
        ferrite_cores.Permeability(np.array([2e6, 1e6]), np.array([1.0, 1.0]), np.array([0.0, 0.0]))
    assert caught.value.code == "mix.table"


def test_end_check_without_turns_is_refused():
    with pytest.raises(BenchnightError) as caught:
        ferrite_cores.compare_inductance(1e-6, 1e-6, 0)
    assert caught.value.code == "winding.turns"
