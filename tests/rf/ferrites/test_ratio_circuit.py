"""The equivalent circuit of ratio devices, held against closed forms and against a nodal analysis."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.rf.ferrites import ratio_circuit
from measurements.rf.ferrites.ratio_circuit import LineParts, TransformerParts
from tests.rf.ferrites import circuit_simulation

FREQ_HZ = np.array([1.8e6, 7.1e6, 14.2e6, 29.7e6])
OPEN_OHM = np.full(FREQ_HZ.size, 1e15 + 0j)


def loaded(parts, ratio, load_ohm=None, freq_hz=FREQ_HZ):
    build = (
        ratio_circuit.build_lines_abcd
        if isinstance(parts, LineParts)
        else ratio_circuit.build_transformer_abcd
    )
    return ratio_circuit.compute_loaded_figures(build(freq_hz, parts), ratio, load_ohm)


@pytest.mark.parametrize("step", [2, 3, 7, 1.5])
def test_an_ideal_step_into_its_own_ratio_loses_nothing(step):
    figures = loaded(TransformerParts(OPEN_OHM, step), step**2)
    assert figures.loss_db == pytest.approx(0, abs=1e-9)
    assert figures.swr == pytest.approx(1, abs=1e-9)


@pytest.mark.parametrize(("wound", "asked", "swr"), [(10.5, 7, 2.25), (7, 7, 1.0), (6.5, 7, (7 / 6.5) ** 2)])
def test_a_wrong_ratio_shows_the_ratio_of_the_ratios(wound, asked, swr):
    """2:21 in place of 3:21: the load is seen as 50 (7/10.5)^2 ohm (ideal transformer, textbook)."""
    figures = loaded(TransformerParts(OPEN_OHM, wound), asked**2)
    assert figures.swr == pytest.approx(swr, rel=1e-6)


@pytest.mark.parametrize(("x_ohm", "swr"), [(50.0, 2.6180), (100.0, 1.6404), (200.0, 1.2832)])
def test_magnetising_inductance_alone_is_a_shunt_reactance(x_ohm, swr):
    """Closed form of a shunt jX across matched R: S11 = -1/(1 + 2jX/R), loss 10 log10(1 + (R/2X)^2)
    (textbook).

    The SWR beside each was computed by hand from |S11| = 1/sqrt(1 + 4 X^2/R^2).
    """
    figures = loaded(TransformerParts(np.full(FREQ_HZ.size, 1j * x_ohm), 7.0), 49.0)
    assert figures.swr == pytest.approx(swr, abs=2e-4)
    assert figures.loss_db == pytest.approx(10 * np.log10(1 + (50 / (2 * x_ohm)) ** 2), rel=1e-6)
    assert figures.dissipative_db == pytest.approx(0, abs=1e-9)


def test_a_core_that_is_a_resistor_loses_its_share():
    """A shunt conductance G beside the matched load takes G/(G + 1/50) of what enters (textbook divider)."""
    figures = loaded(TransformerParts(np.full(FREQ_HZ.size, 950 + 0j), 2.0), 4.0)
    assert figures.dissipative_db == pytest.approx(10 * np.log10(1 + 50 / 950), rel=1e-9)


def test_one_picofarad_across_2450_ohm_is_swr_1_58_at_30_mhz():
    """Trade's reference page, section 10."""
    figures = loaded(
        TransformerParts(np.array([1e12 + 0j]), 7.0, far_f=1e-12), 49.0, freq_hz=np.array([30e6])
    )
    assert figures.swr[0] == pytest.approx(1.58, abs=0.005)


def test_a_published_lossy_model_of_a_4_to_1():
    """5 ohm in series, then 2000 ohm across, then 1:2: loss 0.536791 dB, of it 0.005767 mismatch.

    Computed independently (checks page, section 6, renormalisation), with a circuit simulator and scikit-rf.
    """
    parts = TransformerParts(np.full(4, 2000 + 0j), 2.0, copper_ohm=5.0, near_share=1.0)
    figures = loaded(parts, 4.0)
    assert figures.loss_db == pytest.approx(0.536791, abs=1e-6)
    assert figures.mismatch_db == pytest.approx(0.005767, abs=1e-6)
    assert figures.dissipative_db == pytest.approx(0.531025, abs=1e-6)


def test_a_compensating_capacitor_makes_a_matched_section_of_the_leakage():
    """L with L/(2 R^2) at either end is a constant-k pi section, flat well below its cut-off (Zobel;
    textbook).
    """
    leakage_h, step = 0.2e-6, 7.0
    each_f = leakage_h / (2 * 50**2)
    without = loaded(TransformerParts(OPEN_OHM, step, leakage_h=leakage_h), 49.0)
    compensated = TransformerParts(OPEN_OHM, step, leakage_h=leakage_h, near_f=each_f, far_f=each_f / step**2)
    # its image impedance is R / sqrt(1 - (f/fc)^2), so its SWR at worst 1/(1 - (f/fc)^2), fc = R/(pi L)
    worst = 1 / (1 - (FREQ_HZ * np.pi * leakage_h / 50) ** 2)
    assert (loaded(compensated, 49.0).swr <= worst).all()
    assert worst[-1] < 1.2 < 2 < without.swr[-1]


def test_lines_of_their_own_best_impedance_match_at_every_frequency():
    """Guanella, Brown Boveri Review 31 (1944), from memory: lines of sqrt(near x far) make a device of any
    length.
    """
    for count in (2, 3, 4):
        parts = LineParts(OPEN_OHM, count, line_ohm=50.0 * count, delay_s=9e-9)
        figures = loaded(parts, count**2)
        assert figures.swr == pytest.approx(1, abs=1e-9)
        assert figures.loss_db == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("seed", range(40))
def test_a_voltage_device_agrees_with_a_nodal_analysis(seed):
    rng = np.random.default_rng(seed)
    step = float(rng.choice([2, 3, 7, 2.5]))
    zm = complex(rng.uniform(5, 600), rng.uniform(20, 900))
    far = {"leakage_h": rng.uniform(0, 5e-7), "copper_ohm": rng.uniform(), "near_f": rng.uniform(0, 2e-10)}
    far_f, share, freq_hz = rng.uniform(0, 5e-12), float(rng.uniform()), float(rng.uniform(1e6, 54e6))
    figures = loaded(
        TransformerParts(np.array([zm]), step, near_share=share, far_f=far_f, **far),
        step**2,
        freq_hz=np.array([freq_hz]),
    )
    loss_db, swr = circuit_simulation.transformer(
        freq_hz, step**2 * 50, zm=zm, step=step, share=share, far_f=far_f, **far
    )
    assert figures.loss_db[0] == pytest.approx(loss_db, abs=1e-5)
    assert figures.swr[0] == pytest.approx(swr, rel=1e-5)


@pytest.mark.parametrize("count", [2, 3, 4])
@pytest.mark.parametrize(
    ("zcm", "delay_s", "off"), [(1e9, 3e-9, 1e-3), (60 + 150j, 1e-12, 1e-3), (1500 + 900j, 3e-9, 0.03)]
)
def test_a_current_device_agrees_with_a_nodal_analysis_of_its_lines_and_cores(count, zcm, delay_s, off):
    """Ladders of 24 sections stand for the lines, an ideal 1:1 and Zcm at the near end of each for its core.

    Along a line of 15 degrees the place of the core moves loss and SWR by under 3 %.
    """
    freq_hz, line_ohm = 14.2e6, 80.0
    parts = LineParts(np.array([zcm]), count, line_ohm=line_ohm, delay_s=delay_s)
    figures = loaded(parts, count**2, freq_hz=np.array([freq_hz]))
    loss_db, swr = circuit_simulation.lines(freq_hz, count**2 * 50, count, line_ohm, delay_s, zcm)
    assert figures.loss_db[0] == pytest.approx(loss_db, abs=max(off, 2e-3))
    assert figures.swr[0] == pytest.approx(swr, rel=off)


def test_copper_within_the_skin_depth():
    """Skin depth of copper at 1 MHz is 66 um (textbook); 1 m of 1 mm wire is then 0.083 ohm."""
    assert ratio_circuit.build_copper_ohm(np.array([1e6]), 1.0, 1.0)[0] == pytest.approx(0.083, abs=0.001)
