"""Two one-way sweeps make one full two-port, and what they disagree on is said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import skrf
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from measurements.errors import BenchnightError
from measurements.rf.sweeps.sweep import Sweep
from measurements.rf.sweeps.turned_sweeps import merge_turned_sweeps, turn_sweep

FREQ_HZ = np.linspace(1e6, 54e6, 21)
ONE_WAY = np.array([[True, False], [True, False]])


def two_port() -> skrf.Network:
    """A lossy device that is not symmetric: series R and L, then a shunt capacitor. From scikit-rf."""
    media = skrf.media.DefinedGammaZ0(skrf.Frequency.from_f(FREQ_HZ, unit="hz"), z0=50)
    return media.resistor(30) ** media.inductor(2e-6) ** media.shunt_capacitor(50e-12)


def one_way(s: np.ndarray, **changes: object) -> Sweep:
    """What an analyser that drives port 1 only stores: zeros in the second column."""
    stored = s.copy()
    stored[:, :, 1] = 0
    return replace(Sweep(FREQ_HZ, stored, np.array([50.0, 50.0]), ONE_WAY), **changes)


def pair() -> tuple[Sweep, Sweep, np.ndarray]:
    network = two_port()
    return one_way(network.s), one_way(network.flipped().s), network.s


def test_the_merged_sweep_is_the_full_two_port_of_scikit_rf() -> None:
    forward, back, s = pair()
    merged = merge_turned_sweeps(forward, back)
    np.testing.assert_array_equal(merged.s, s)
    assert merged.measured.all()
    assert merged.source == "turned"
    assert merged.notes == ("Merged with the sweep of the device turned round.",)


def test_neither_input_is_changed() -> None:
    forward, back, _ = pair()
    before = forward.s.copy(), back.s.copy()
    merge_turned_sweeps(forward, back)
    np.testing.assert_array_equal(forward.s, before[0])
    np.testing.assert_array_equal(back.s, before[1])


def test_references_follow_the_ports() -> None:
    forward, back, _ = pair()
    merged = merge_turned_sweeps(
        replace(forward, z0_ohm=np.array([50.0, 75.0])), replace(back, z0_ohm=np.array([75.0, 50.0]))
    )
    assert merged.z0_ohm.tolist() == [50, 75]


def test_a_grid_rounded_by_the_exporter_is_the_same_grid() -> None:
    forward, back, _ = pair()
    assert merge_turned_sweeps(forward, replace(back, freq_hz=FREQ_HZ * (1 + 3e-7))).points == 21


def test_disagreement_of_s21_and_s12_is_a_note_with_its_size() -> None:
    forward, back, _ = pair()
    s = back.s.copy()
    s[7, 1, 0] *= 10 ** (-1 / 20)
    note = merge_turned_sweeps(forward, replace(back, s=s)).notes[-1]
    assert "1.00 dB" in note and f"{FREQ_HZ[7] / 1e6:g} MHz" in note


def test_a_transmission_of_zero_on_one_side_only_is_said() -> None:
    forward, back, _ = pair()
    s = back.s.copy()
    s[3, 1, 0] = 0
    assert "inf dB" in merge_turned_sweeps(forward, replace(back, s=s)).notes[-1]


def test_reflections_measured_both_ways_are_compared() -> None:
    network = two_port()
    full = Sweep(FREQ_HZ, network.s, np.array([50.0, 50.0]), np.ones((2, 2), dtype=bool))
    turned = network.flipped().s.copy()
    turned[:, 1, 1] += 0.05  # the device's S11, measured again
    turned[:, 0, 0] += 0.07  # its S22
    notes = merge_turned_sweeps(full, replace(full, s=turned)).notes
    assert any(note.startswith("S11") and "0.050" in note for note in notes)
    assert any(note.startswith("S22") and "0.070" in note for note in notes)


def test_sizes_without_phase_stay_so() -> None:
    forward, back, _ = pair()
    assert merge_turned_sweeps(forward, replace(back, magnitude_only=True)).magnitude_only


def refused(forward: Sweep, back: Sweep, code: str, field: str) -> None:
    with pytest.raises(BenchnightError) as caught:
        merge_turned_sweeps(forward, back)
    assert (caught.value.code, caught.value.field) == (f"sweep.{code}", field)


def test_refusals() -> None:
    forward, back, _ = pair()
    refused(forward, forward, "not_turned", "sweep_reversed")
    refused(forward, replace(back, freq_hz=FREQ_HZ * 1.01), "grid_differs", "sweep_reversed")
    refused(forward, replace(back, freq_hz=FREQ_HZ + 1e9), "no_overlap", "sweep_reversed")
    short = Sweep(FREQ_HZ[:9], back.s[:9], back.z0_ohm, ONE_WAY)
    refused(forward, short, "grid_differs", "sweep_reversed")
    refused(forward, replace(back, z0_ohm=np.array([75.0, 75.0])), "reference_differs", "sweep_reversed")
    refused(forward, back.without(1, 0), "not_measured", "sweep_reversed")
    refused(forward.without(0, 0), back, "not_measured", "sweep")
    one = Sweep(FREQ_HZ, forward.s[:, :1, :1], np.array([50.0]), np.array([[True]]))
    refused(forward, one, "ports", "sweep_reversed")
    refused(one, back, "ports", "sweep")


complexes = st.complex_numbers(max_magnitude=1, allow_nan=False, allow_infinity=False)
two_ports = st.integers(1, 6).flatmap(
    lambda points: st.builds(
        Sweep,
        freq_hz=st.just(np.arange(1.0, points + 1) * 1e6),
        s=arrays.arrays(np.complex128, (points, 2, 2), elements=complexes),
        z0_ohm=arrays.arrays(np.float64, 2, elements=st.floats(1, 500)),
        measured=arrays.arrays(np.bool_, (2, 2)),
    )
)


@settings(max_examples=300, deadline=None)
@given(two_ports)
def test_turning_twice_is_the_identity(sweep: Sweep) -> None:
    twice = turn_sweep(turn_sweep(sweep))
    for name in ("freq_hz", "s", "z0_ohm", "measured"):
        np.testing.assert_array_equal(getattr(twice, name), getattr(sweep, name))


@settings(max_examples=300, deadline=None)
@given(two_ports)
def test_a_full_two_port_merged_with_its_own_turn_is_itself(sweep: Sweep) -> None:
    full = replace(sweep, measured=np.ones((2, 2), dtype=bool))
    back = turn_sweep(full)
    if np.array_equal(full.s[:, :, 0], back.s[:, :, 0]):
        refused(full, back, "not_turned", "sweep_reversed")
        return
    merged = merge_turned_sweeps(full, back)
    np.testing.assert_array_equal(merged.s, full.s)
    np.testing.assert_array_equal(merged.z0_ohm, full.z0_ohm)
