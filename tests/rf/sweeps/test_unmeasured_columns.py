"""A column that was not measured is found and marked; how analysers fill it is common practice, no source."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.rf.sweeps.reading import read_sweep
from measurements.rf.sweeps.unmeasured_columns import find_measured_columns

POINTS = 5


def random_s(ports: int, seed: int = 3) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return rng.uniform(-0.5, 0.5, (POINTS, ports, ports)) + 1j * rng.uniform(
        -0.5, 0.5, (POINTS, ports, ports)
    )


ONE_WAY = [[True, False], [True, False]]


def test_a_full_two_port_is_measured() -> None:
    measured, notes = find_measured_columns(random_s(2))
    assert measured.all() and notes == ()


def test_zeros_in_the_second_column() -> None:
    s = random_s(2)
    s[:, :, 1] = 0
    measured, notes = find_measured_columns(s)
    assert measured.tolist() == ONE_WAY
    assert len(notes) == 1 and "turned round" in notes[0]


def test_copies_of_the_first_column() -> None:
    s = random_s(2)
    s[:, 0, 1], s[:, 1, 1] = s[:, 1, 0], s[:, 0, 0]
    assert find_measured_columns(s)[0].tolist() == ONE_WAY


def test_one_bit_of_difference_is_a_measurement() -> None:
    s = random_s(2)
    s[:, 0, 1], s[:, 1, 1] = s[:, 1, 0], s[:, 0, 0]
    s[2, 1, 1] = np.nextafter(s[2, 1, 1].real, 1) + 1j * s[2, 1, 1].imag
    assert find_measured_columns(s)[0].all()


def test_a_reciprocal_device_without_noise_is_measured() -> None:
    s = random_s(2)
    s[:, 0, 1] = s[:, 1, 0]
    measured, notes = find_measured_columns(s)
    assert measured.all() and notes == ()


@pytest.mark.parametrize(("zero", "copy"), [((0, 1), (1, 1)), ((1, 1), (0, 1))])
def test_half_zeros_half_copies(zero: tuple[int, int], copy: tuple[int, int]) -> None:
    s = random_s(2)
    s[:, zero[0], zero[1]] = 0
    s[:, copy[0], copy[1]] = s[:, 1 - copy[0], 1 - copy[1]]
    assert find_measured_columns(s)[0].tolist() == ONE_WAY


def test_an_isolator_keeps_its_far_reflection() -> None:
    s = random_s(2)
    s[:, 0, 1] = 0
    assert find_measured_columns(s)[0].tolist() == [[True, False], [True, True]]


def test_transmission_only() -> None:
    s = np.zeros((POINTS, 2, 2), dtype=complex)
    s[:, 1, 0] = random_s(1)[:, 0, 0]
    measured, notes = find_measured_columns(s)
    assert measured.tolist() == [[False, False], [True, False]]
    assert len(notes) == 2 and notes[1].endswith("S11.")


def test_the_second_direction_alone() -> None:
    s = random_s(2)
    s[:, :, 0] = 0
    assert find_measured_columns(s)[0].tolist() == [[False, True], [False, True]]


def test_zeros_of_a_file_in_decibels_come_out_as_ones() -> None:
    text = "# MHz S DB R 50\n1 -3 10 -20 5 0 0 0 0\n2 -4 10 -21 5 0 0 0 0\n"
    sweep = read_sweep(text.encode(), "a.s2p")
    assert sweep.measured.tolist() == ONE_WAY
    assert "0 dB" in sweep.notes[-1]


def test_a_column_that_is_zero_at_one_point_only_is_measured() -> None:
    s = random_s(2)
    s[0, :, 1] = 0
    assert find_measured_columns(s)[0].all()


@pytest.mark.parametrize("ports", [3, 4])
def test_undriven_ports_of_three_and_four(ports: int) -> None:
    s = random_s(ports)
    s[:, :, 1:] = 0
    measured, notes = find_measured_columns(s)
    assert measured[:, 0].all() and not measured[:, 1:].any()
    assert f"S{ports}{ports}" in notes[0]


def test_nothing_measured_at_all() -> None:
    with pytest.raises(BenchnightError) as caught:
        find_measured_columns(np.zeros((POINTS, 2, 2), dtype=complex))
    assert caught.value.code == "sweep.nothing_measured"


def test_a_perfect_one_port_load_is_kept_and_named() -> None:
    measured, notes = find_measured_columns(np.zeros((POINTS, 1, 1), dtype=complex))
    assert measured.all() and "exactly zero" in notes[0]


def test_a_column_that_was_not_measured_is_refused_to_who_asks() -> None:
    sweep = read_sweep(b"# MHz S RI R 50\n1 .1 .2 .3 .4 0 0 0 0\n", "a.s2p")
    assert sweep.column(1, 0)[0] == 0.3 + 0.4j
    for i, j in ((0, 1), (1, 1), (2, 0)):
        with pytest.raises(BenchnightError) as caught:
            sweep.column(i, j, field="far_open")
        assert (caught.value.code, caught.value.field) == ("sweep.not_measured", "far_open")
    assert not sweep.without(1, 0).measured.any(axis=0)[1]
    assert sweep.without(1, 0).measured.tolist() == [[True, False], [False, False]]
