"""What the sample sweeps show, computed here with scikit-rf and held against published figures."""

from __future__ import annotations

import csv

import numpy as np
import pytest
import skrf

from tests.fixtures_data import sample_sweeps

TWO_WAY = ("choke_good.s2p", "choke_short_of_turns.s2p", "jig_open.s2p", "jig_short.s2p", "jig_through.s2p")


def rejection_db(network: skrf.Network) -> np.ndarray:
    return -20 * np.log10(np.abs(network.s[:, 1, 0]))


def series_ohm(network: skrf.Network) -> np.ndarray:
    """Z between the ports of a full two-port, -1/Y21: scikit-rf gives Y."""
    return -1 / network.y[:, 1, 0]


def winding_ohm(name: str) -> np.ndarray:
    """Impedance of a device with the jig taken away.

    (Zm-Zs)/(1-(Zm-Zs) Yo), Yo = 1/(Zo-Zs): open/short compensation, B&K Precision 889B manual sec. 4.2.
    """
    measured, opened, shorted = (
        series_ohm(sample_sweeps.network(file)) for file in (name, "jig_open.s2p", "jig_short.s2p")
    )
    return (measured - shorted) / (1 - (measured - shorted) / (opened - shorted))


def at(hertz: float, values: np.ndarray) -> complex:
    freq_hz = sample_sweeps.network("choke_good.s2p").f
    return complex(np.interp(hertz, freq_hz, values.real) + 1j * np.interp(hertz, freq_hz, values.imag))


@pytest.mark.parametrize("name", [name for name in sample_sweeps.names() if not name.endswith(".csv")])
def test_401_points_from_1_to_30_mhz_in_50_ohm(name: str) -> None:
    network = sample_sweeps.network(name)
    assert np.allclose(network.f, np.linspace(1e6, 30e6, 401), rtol=1e-12)
    assert np.all(network.z0 == 50)
    assert np.all(np.isfinite(network.s))


@pytest.mark.parametrize("name", TWO_WAY)
def test_passive_and_reciprocal(name: str) -> None:
    s = sample_sweeps.network(name).s
    # loss factor 1-|S11|^2-|S21|^2 >= 0 tests a passive measurement (microwaves101.com, mismatch loss)
    assert np.all(np.sum(np.abs(s) ** 2, axis=1) < 1.0005)
    assert np.max(np.abs(s[:, 0, 1] - s[:, 1, 0])) < 1e-4
    assert not np.array_equal(s[:, 0, 1], s[:, 1, 0]), "two directions are two measurements"


@pytest.mark.parametrize(
    ("hertz", "published_ohm"),
    [  # N = 12 on 61/35.55/12.7 mm, mix 31, no stray: computed independently from the maker's rows
        (1e6, 574.8 + 1738.0j),
        (3.56e6, 2905.2 + 2606.3j),
        (7.2e6, 3969.7 + 2939.3j),
        (14.6e6, 5416.8 + 3732j),
    ],
)
def test_the_good_choke_is_the_published_winding_with_3_pf_across_it(
    hertz: float, published_ohm: complex
) -> None:
    without_stray = 1 / (1 / at(hertz, winding_ohm("choke_good.s2p")) - 2j * np.pi * hertz * 3e-12)
    assert without_stray == pytest.approx(published_ohm, rel=0.02)


def test_which_chokes_meet_20_db() -> None:
    # 20 dB: common practice, no source
    assert np.min(rejection_db(sample_sweeps.network("choke_good.s2p"))) > 20
    short = sample_sweeps.network("choke_short_of_turns.s2p")
    met = short.f[rejection_db(short) >= 20]
    assert 4e6 < met[0] < 14e6
    assert np.all(rejection_db(short)[short.f < 3.8e6] < 20)


def test_five_turns_have_25_144ths_of_the_impedance_of_twelve() -> None:
    # the square of the turns, textbook; 1 MHz, where stray capacitance does not matter yet
    ratio = at(1e6, winding_ohm("choke_short_of_turns.s2p")) / at(1e6, winding_ohm("choke_good.s2p"))
    assert ratio == pytest.approx(25 / 144, rel=0.05)


def test_the_second_direction_of_one_sweep_was_not_measured() -> None:
    s = sample_sweeps.network("choke_one_direction.s2p").s
    assert np.all(s[:, :, 1] == 0)
    assert np.all(np.abs(s[:, :, 0]) > 0)


def test_the_jig() -> None:
    opened, shorted, through = (
        sample_sweeps.network(f"jig_{state}.s2p") for state in ("open", "short", "through")
    )
    # a leak of 0.05 pF is 318 kohm at 10 MHz: 1/(2 pi f C)
    assert abs(at(10e6, series_ohm(opened))) == pytest.approx(318.3e3, rel=0.25)
    assert np.min(rejection_db(opened)) > 55
    assert at(10e6, series_ohm(shorted)) == pytest.approx(0.2 + 1.2566j, rel=0.02)  # 20 nH: 2 pi f L
    assert np.max(rejection_db(through)) < 0.02


def test_the_floor_is_10_db_below_every_choke() -> None:
    floor_db = rejection_db(sample_sweeps.network("jig_open.s2p"))
    for name in ("choke_good.s2p", "choke_one_direction.s2p", "choke_short_of_turns.s2p"):
        assert np.all(floor_db - rejection_db(sample_sweeps.network(name)) > 10), name


def test_the_load_match_is_good_on_every_point() -> None:
    network = sample_sweeps.network("load_match_1to1.s1p")
    swr = network.s_vswr[:, 0, 0]
    assert np.max(swr) < 1.5  # house default
    assert swr[0] == pytest.approx(1, abs=0.01)
    assert np.argmax(swr) > 300, "leads and capacitance tell at the high end"


def table(name: str, delimiter: str) -> np.ndarray:
    with (sample_sweeps.FOLDER / name).open(encoding="ascii", newline="") as file:
        lines = list(csv.reader(file, delimiter=delimiter))
    return np.array([[float(cell.replace(",", ".")) for cell in line] for line in lines[1:]])


def test_the_decimal_comma_table_is_a_choke_of_mix_43() -> None:
    megahertz, decibel, degree = table("choke_decimal_comma.csv", ";").T
    assert (megahertz[0], megahertz[-1], len(megahertz)) == (1, 30, 401)
    s21 = 10 ** (decibel / 20) * np.exp(1j * np.radians(degree))
    z_ohm = 100 * (1 - s21) / s21  # series-through, 50 ohm: Advantest R3765/67G manual p. 7-13
    # 14 turns on 35.55/23/12.7 mm: 2 pi f 1.106 nH 196 (851.36 - 48.00j) at 1 MHz
    assert z_ohm[0].imag == pytest.approx(2 * np.pi * 1e6 * 1.1060e-9 * 196 * 851.36, rel=0.05)
    assert np.all(decibel < -20)


def test_the_decibel_table_is_a_choke_of_mix_61() -> None:
    hertz, decibel = table("choke_db_only.csv", ",").T
    assert (hertz[0], hertz[-1], len(hertz)) == (1e6, 30e6, 401)
    # 10 turns on 61/35.55/12.7 mm: A_L 171.4 nH gives 17.1 uH, 107.7 ohm at 1 MHz
    assert decibel[0] == pytest.approx(-20 * np.log10(abs(1 + 1.077j)), abs=0.1)
    assert np.min(decibel) < -20 < np.max(decibel)
