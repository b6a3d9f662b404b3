"""Two-port algebra against published values, closed forms and scikit-rf."""

from __future__ import annotations

import numpy as np
import pytest
import skrf
from hypothesis import given
from hypothesis import strategies as st

from measurements.rf.networks import two_port

S_PUBLISHED = [  # the MathWorks s2s page, https://mathworks.com/help/rf/ref/s2s.html
    [0.61 * np.exp(1j * np.radians(165)), 0.05 * np.exp(1j * np.radians(42))],
    [3.72 * np.exp(1j * np.radians(59)), 0.45 * np.exp(1j * np.radians(-48))],
]


def random_s(rng: np.random.Generator, points: int = 20, ports: int = 2) -> np.ndarray:
    """Passive: the largest singular value is 0.95."""
    s = rng.standard_normal((points, ports, ports)) + 1j * rng.standard_normal((points, ports, ports))
    return 0.95 * s / np.linalg.norm(s, ord=2, axis=(1, 2))[:, None, None]


def ideal(turns: float) -> np.ndarray:
    """ABCD of an ideal transformer 1:turns, one point."""
    return np.array([[[1 / turns, 0], [0, turns]]], complex)


def test_published_renormalisation_50_to_40():
    # https://mathworks.com/help/rf/ref/s2s.html, four decimals printed
    new = two_port.renormalise_s(np.array([S_PUBLISHED]), (50, 50), (40, 40))[0]
    printed = [[-0.5039 + 0.1563j, 0.0373 + 0.0349j], [1.8929 + 3.2940j, 0.4150 - 0.3286j]]
    assert np.allclose(new, printed, atol=6e-5)


@pytest.mark.parametrize(
    ("to_ohm", "expected"),
    [  # unequal references, same S: computed independently
        ((40, 50), [-0.5082 + 0.1785j, 0.0402 + 0.0348j, 2.1004 + 3.3515j, 0.3049 - 0.3562j]),
        (
            (50, 200),
            [-0.582843 + 0.290025j, 0.041775 + 0.022437j, 2.484199 + 2.505054j, -0.438456 - 0.300780j],
        ),
    ],
)
def test_renormalisation_to_unequal_references(to_ohm, expected):
    new = two_port.renormalise_s(np.array([S_PUBLISHED]), (50, 50), to_ohm)[0]
    assert np.allclose(new.ravel(), expected, atol=6e-5)


def test_published_impedance_matrix_of_the_same_s():
    # https://uk.mathworks.com/help/rf/ref/s2z.html; here through ABCD: Z11 = A/C ...
    abcd = two_port.s_to_abcd(np.array([S_PUBLISHED]), (50, 50))[0]
    (a, b), (c, d) = abcd
    z = [a / c, (a * d - b * c) / c, 1 / c, d / c]
    assert np.allclose(z, [11.41 + 15.67j, 3.52 + 2.09j, 204.61 + 225.24j, 74.98 - 38.03j], atol=0.02)


@pytest.mark.parametrize(("turns", "s11", "s21"), [(2, -0.6, 0.8), (3, -0.8, 0.6), (7, -0.96, 0.28)])
def test_ideal_transformers_in_50_ohm(turns, s11, s21):
    # closed forms
    s = two_port.abcd_to_s(ideal(turns), (50, 50))[0]
    assert np.allclose(s, [[s11, s21], [s21, -s11]], atol=1e-14)
    matched = two_port.renormalise_s(s[None], (50, 50), (50, 50 * turns**2))[0]
    assert np.allclose(matched, [[0, 1], [1, 0]], atol=1e-14)


def test_a_through_renormalised_to_50_and_200():
    # closed form; scikit-rf goes through Z and is off by 2e-8 here
    through = np.array([[[0, 1], [1, 0]]], complex)
    assert np.allclose(
        two_port.renormalise_s(through, (50, 50), (50, 200))[0], [[0.6, 0.8], [0.8, -0.6]], atol=1e-15
    )


def test_the_lossy_four_to_one_model():
    # computed independently: 5 ohm series, 2000 ohm shunt, ideal 1:2, in 50/200; and two back to back in
    # 50/50
    shunt = np.array([[[1, 0], [1 / 2000, 1]]], complex)
    abcd = two_port.build_series_abcd(5, 1) @ shunt @ ideal(2)
    s = two_port.abcd_to_s(abcd, (50, 200))[0]
    assert np.allclose([s[0, 0], s[1, 0], s[1, 1]], [0.03642773, 0.94007051, 0.03407756], atol=5e-9)
    assert two_port.loss_db(s[1, 0]) == pytest.approx(0.536791, abs=6e-7)
    reverse = two_port.s_to_abcd(two_port.turn_two_port(s[None]), (200, 50))
    pair = two_port.abcd_to_s(abcd @ reverse, (50, 50))[0]
    assert np.allclose([pair[0, 0], pair[1, 0]], [0.066578, 0.884760], atol=6e-7)
    assert two_port.loss_db(pair[1, 0]) == pytest.approx(1.063490, abs=6e-6)


@given(seed=st.integers(0, 10_000), z=st.tuples(*[st.floats(1.0, 5000.0)] * 4))
def test_conversions_agree_with_scikit_rf_and_return(seed, z):
    s = random_s(np.random.default_rng(seed))
    old, new = z[:2], z[2:]
    abcd = two_port.s_to_abcd(s, old)
    old_rows = np.tile(np.array(old, complex), (len(s), 1))
    assert np.allclose(abcd, skrf.network.s2a(s, old_rows), rtol=1e-8, atol=1e-9)
    assert np.allclose(two_port.abcd_to_s(abcd, old), s, atol=1e-9)
    there = two_port.renormalise_s(s, old, new)
    assert np.allclose(there, two_port.abcd_to_s(abcd, new), atol=1e-8)
    assert np.allclose(two_port.renormalise_s(there, new, old), s, atol=1e-8)
    assert np.linalg.norm(there, ord=2, axis=(1, 2)).max() <= 1 + 1e-9  # a passive device stays passive


def test_renormalising_three_ports_agrees_with_scikit_rf():
    s = random_s(np.random.default_rng(3), ports=3)
    old, new = np.full((20, 3), 50.0 + 0j), np.tile(np.array([50, 100, 25 + 0j]), (20, 1))
    expected = skrf.network.renormalize_s(s, old, new, s_def="traveling")
    assert np.allclose(two_port.renormalise_s(s, (50, 50, 50), (50, 100, 25)), expected, atol=1e-10)


def test_singular_points_are_nan_and_silent():
    s = np.array([[[1, 0], [0, 1]], [[0, 1], [1, 0]]], complex)  # nothing passes; everything passes
    abcd = two_port.s_to_abcd(s, (50, 50))
    assert np.isnan(abcd[0]).all()
    assert np.allclose(abcd[1], np.eye(2))
    assert np.isnan(two_port.abcd_to_s(abcd, (50, 200))[0]).all()
    assert np.isnan(two_port.loss_db(np.array([0.0, np.nan]))).all()
    assert np.isnan(two_port.impedance_ohm(1.0, 50.0))
    assert np.isnan(two_port.reflection_coefficient(-50.0, 50.0))
    assert np.isnan(two_port.power_loss_db(np.array([-0.1, 0.0]))).all()
    assert np.isnan(two_port.divide_or_nan(1e308, 1e-308))
    active = np.array([[[-1 / 0.6, 0], [0, 0]]], complex)  # I - G S has no inverse: no passive device
    assert np.isnan(two_port.renormalise_s(active, (50, 50), (12.5, 50))).all()


def test_nothing_is_changed_in_place():
    s = random_s(np.random.default_rng(1))
    s.setflags(write=False)
    two_port.renormalise_s(s, (50, 50), (50, 200))
    two_port.turn_two_port(two_port.abcd_to_s(two_port.s_to_abcd(s, (50, 50)), (50, 50)))


def test_the_square_root_follows_its_neighbours():
    phase = np.linspace(0.3, 9 * np.pi, 500)
    value = 0.8 * np.exp(1j * phase)
    root = two_port.continuous_sqrt(value**2)
    assert np.allclose(root, value)
    gapped = value**2
    gapped[100:103] = np.nan
    again = two_port.continuous_sqrt(gapped)
    assert np.isnan(again[100:103]).all()
    assert np.allclose(np.delete(again, [100, 101, 102]), np.delete(value, [100, 101, 102]))


@pytest.mark.parametrize(
    ("mismatch_db", "insertion_db", "dissipative_db"),
    [  # L. Asbrink, Table 1, http://sm5bsz.com/lir/loss/144/insert.htm, DUT 1 to 4
        (0.16591, 0.1753, 0.0094),
        (0.00005, 0.0597, 0.0597),
        (0.00071, 0.0290, 0.0283),
        (0.00022, 0.0590, 0.0588),
    ],
)
def test_published_splits_of_a_loss(mismatch_db, insertion_db, dissipative_db):
    # S11 and S21 from the published mismatch and insertion loss; L = L_A L_R (Zhang and Li, eqs. 3.134-3.138)
    s11 = np.sqrt(1 - 10 ** (-mismatch_db / 10))
    s21 = 10 ** (-insertion_db / 20)
    found_db = two_port.loss_db(np.array(s21)) - two_port.mismatch_db(np.array(s11, complex))
    assert found_db == pytest.approx(dissipative_db, abs=1.1e-4)
    assert found_db == pytest.approx(-10 * np.log10(s21**2 / (1 - s11**2)))


@pytest.mark.parametrize(
    ("high_ohm", "series_ohm", "shunt_ohm", "loss_db"),
    [  # minimum-loss L pads (Allied's Electronics Data Handbook; rows computed)
        (75, 43.301, 86.603, 5.7195),
        (100, 70.711, 70.711, 7.6555),
        (200, 173.205, 57.735, 11.4390),
        (450, 424.264, 53.033, 15.3110),
        (2450, 2424.871, 50.518, 22.8779),
    ],
)
def test_minimum_loss_pads_match_both_ends(high_ohm, series_ohm, shunt_ohm, loss_db):
    shunt = np.array([[[1, 0], [1 / shunt_ohm, 1]]], complex)
    s = two_port.abcd_to_s(two_port.build_series_abcd(series_ohm, 1) @ shunt, (high_ohm, 50))[0]
    assert np.abs([s[0, 0], s[1, 1]]).max() < 2e-5
    assert two_port.loss_db(s[1, 0]) == pytest.approx(loss_db, abs=1e-4)


def test_adapters_behind_an_ideal_four_to_one():
    # computed independently: with 150 ohm S11 0, S21 0.5; with the pad S21 0.267949; port 2 then sees 0.75
    series = two_port.build_series_abcd(150.0, 1)
    with_series = two_port.abcd_to_s(ideal(2) @ series, (50, 50))[0]
    assert np.allclose([with_series[0, 0], with_series[1, 0]], [0, 0.5])
    assert with_series[1, 1] == pytest.approx(0.75)  # what the 50-ohm port sees
    pad = two_port.build_series_abcd(173.205, 1) @ np.array([[[1, 0], [1 / 57.735, 1]]], complex)
    assert two_port.abcd_to_s(ideal(2) @ pad, (50, 50))[0, 1, 0] == pytest.approx(0.267949, abs=1e-6)
    nine = two_port.abcd_to_s(ideal(3) @ two_port.build_series_abcd(400.0, 1), (50, 50))[0]
    assert np.allclose([nine[0, 0], nine[1, 0], nine[1, 1]], [0, 0.333333, 0.8889], atol=2e-5)
    assert two_port.abcd_to_s(series, (50, 50))[0, 1, 0] == pytest.approx(0.4)


def test_published_transducer_gain():
    # inputs: rftk help; gains: Pozar (from memory); S .38/-158 .11/54 3.50/80 .40/-43, source 25, load 40
    # ohm; Gt 12.604
    polar = [[(0.38, -158), (0.11, 54)], [(3.50, 80), (0.40, -43)]]
    s = np.array([[[m * np.exp(1j * np.radians(angle)) for m, angle in row] for row in polar]])
    gain = np.abs(two_port.renormalise_s(s, (50, 50), (25, 40))[0, 1, 0]) ** 2
    assert gain == pytest.approx(12.604, abs=6e-4)
