"""Figures of a whole sweep on textbook circuits, ferrite windings and noise."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.rf.ferrites import ferrite_cores
from measurements.rf.kinds import choke_figures
from measurements.rf.networks import series_through
from tests.rf import benches

FREQ = benches.linear_hz()
RESONANCE = 1 / (2 * np.pi * np.sqrt(20e-6 * 5e-12))


def figures(freq, z):
    resonance = choke_figures.self_resonance_hz(freq, z)
    stray = choke_figures.stray_capacitance_f(freq, z, resonance)
    return resonance, stray, choke_figures.inductance_h(freq, z, resonance, stray)


def test_parallel_circuit_gives_its_own_parts_back():
    resonance, stray, inductance = figures(FREQ, benches.choke_z(FREQ, capacitance=5e-12))
    assert resonance == pytest.approx(RESONANCE, rel=1e-4)
    assert stray == pytest.approx(5e-12, rel=1e-6)
    assert inductance == pytest.approx(20e-6, rel=2e-3)
    peak, at = choke_figures.find_peak_impedance(FREQ, benches.choke_z(FREQ, capacitance=5e-12))
    assert peak == pytest.approx(5000, rel=1e-3) and at == pytest.approx(RESONANCE, abs=73e3)


@given(st.floats(8e-6, 60e-6), st.floats(1.5e-12, 8e-12), st.floats(5e3, 2e4))
def test_any_parallel_circuit_whose_resonance_the_sweep_spans(inductance, capacitance, resistance):
    expected = 1 / (2 * np.pi * np.sqrt(inductance * capacitance))
    if not 3e6 < expected < 27e6:
        return
    got, stray, measured = figures(FREQ, benches.choke_z(FREQ, inductance, resistance, capacitance))
    assert got == pytest.approx(expected, rel=2e-3)
    assert stray == pytest.approx(capacitance, rel=0.02)
    assert measured == pytest.approx(inductance, rel=0.05)


@pytest.mark.parametrize("seed", range(5))
def test_noise_moves_the_figures_little(seed):
    s = benches.noisy(benches.choke(FREQ, capacitance=5e-12), seed)
    z = series_through.compute_series_impedance(benches.two_port(FREQ, s), "s21")
    resonance, stray, inductance = figures(FREQ, z)
    assert resonance == pytest.approx(RESONANCE, rel=0.06)
    assert stray == pytest.approx(5e-12, rel=0.05)
    assert inductance == pytest.approx(20e-6, rel=0.01)


# Rows of the maker's table of mix 31 (Fair-Rite): MHz, mu', mu''.
MIX_31 = np.array(
    [
        (0.1, 1401.93, 41.61), (1, 1400.65, 463.22), (2, 980.76, 734.77), (3.56, 590, 657.67),
        (5.43, 409, 527), (7.2, 329, 444.33), (11, 248, 346.67), (14.6, 206, 299), (19.3, 168, 260),
        (29.5, 115.67, 210.33), (51.8, 61.8, 151.67),
    ]
)  # fmt: skip


def test_a_ferrite_winding_is_read_as_its_end_check_expects():
    table = ferrite_cores.Permeability(MIX_31[:, 0] * 1e6, MIX_31[:, 1], MIX_31[:, 2])
    factor = ferrite_cores.toroid_factor_m(61, 35.55, 12.7)
    z = ferrite_cores.winding_z_ohm(FREQ, table.at(FREQ), 12, factor, 2e-12)
    _, stray, inductance = figures(FREQ, z)
    assert stray == pytest.approx(2e-12, rel=0.1)
    a_l = ferrite_cores.a_l_h(1500, factor)
    check = ferrite_cores.compare_inductance(float(inductance), a_l, 12)
    assert check.agrees and check.turns_that_fit == pytest.approx(12, abs=0.7)


def test_span_ends_where_the_chord_crosses_the_limit():
    # By hand: |S21| falls 0.2 -> 0.05 and rises again, real values, so the crossings are linear.
    freq = np.array([1e6, 2e6, 3e6, 4e6])
    s21 = np.array([0.2, 0.05, 0.05, 0.2]) + 0j
    assert choke_figures.find_widest_span(freq, s21, 20) == pytest.approx((1e6 + 1e6 * 2 / 3, 3e6 + 1e6 / 3))


def test_span_end_on_a_complex_chord_meets_the_limit_exactly():
    freq = np.array([1e6, 2e6])
    s21 = np.array([0.03 + 0.04j, -0.2 + 0.1j])
    start, stop = choke_figures.find_widest_span(freq, s21, 20)
    at = s21[0] + (stop - 1e6) / 1e6 * (s21[1] - s21[0])
    assert start == 1e6 and abs(at) == pytest.approx(0.1)


def test_widest_of_several_spans_and_none():
    freq = np.arange(1, 9) * 1e6
    s21 = np.array([0.05, 0.5, 0.05, 0.05, 0.05, 0.5, 0.05, 0.05]) + 0j
    start, stop = choke_figures.find_widest_span(freq, s21, 20)
    assert 2e6 < start < 3e6 and 5e6 < stop < 6e6
    assert choke_figures.find_widest_span(freq, s21 * 0 + 1, 20) is None
    assert choke_figures.find_widest_span(freq, s21 * 0 + 0.1, 20) == (1e6, 8e6)  # exactly 20 dB meets 20 dB


def test_span_stops_at_an_undefined_point():
    freq = np.arange(1, 5) * 1e6
    s21 = np.array([0.05, 0.05, np.nan, 0.05]) + 0j
    assert choke_figures.find_widest_span(freq, s21, 20) == (1e6, 2e6)


@pytest.mark.parametrize(
    ("name", "z"),
    [
        ("resistor", np.full(401, 900 + 0j)),
        ("inductor", 2j * np.pi * FREQ * 5e-6),
        ("capacitor", 1 / (2j * np.pi * FREQ * 2e-12)),
        ("series resonance", 2j * np.pi * FREQ * 2e-6 + 1 / (2j * np.pi * FREQ * 50e-12)),
        ("through", np.zeros(401, complex)),
        ("undefined", np.full(401, complex(np.nan, np.nan))),
    ],
)
def test_no_self_resonance_where_there_is_none(name, z):
    resonance, stray, _ = figures(FREQ, z)
    assert np.isnan(resonance) and np.isnan(stray), name


def test_nothing_defined_gives_nan_everywhere():
    z = np.full(401, complex(np.nan, np.nan))
    assert np.isnan(figures(FREQ, z)).all() and np.isnan(choke_figures.find_peak_impedance(FREQ, z)).all()


@pytest.mark.parametrize("points", [1, 2, 3])
def test_very_short_sweeps(points):
    freq = FREQ[:points]
    resonance, _, inductance = figures(freq, benches.choke_z(freq))
    assert np.isnan(resonance)
    assert np.isnan(inductance) == (points < 2)


def test_the_lowest_of_two_resonances_is_the_self_resonance():
    # Two parallel circuits in series: X passes + to - at each of their resonances.
    z = benches.choke_z(FREQ, 20e-6, 8000, 20e-12) + benches.choke_z(FREQ, 2e-6, 8000, 20e-12)
    first = 1 / (2 * np.pi * np.sqrt(20e-6 * 20e-12))
    assert choke_figures.self_resonance_hz(FREQ, z) == pytest.approx(first, rel=0.02)


def test_many_sweeps_of_one_grid_go_through_at_once():
    z = np.stack([benches.choke_z(FREQ, capacitance=c) for c in (5e-12, 8e-12)] + [np.full(401, 900 + 0j)])
    together = figures(FREQ, z)
    for row in range(3):
        alone = figures(FREQ, z[row])
        for many, one in zip(together, alone, strict=True):
            assert many[row] == pytest.approx(float(one), nan_ok=True)
