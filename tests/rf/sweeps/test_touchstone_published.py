"""The examples of the Touchstone documents read to their printed values."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest

from measurements.rf.sweeps.reading import read_sweep
from tests.rf.sweeps import touchstone_examples
from tests.rf.sweeps.refusals import refused


def polar(magnitude: float, angle_deg: float) -> complex:
    return cmath.rect(magnitude, math.radians(angle_deg))


def sweep_of(text: str, name: str):
    return read_sweep(text.encode(), name)


def test_one_port_s() -> None:
    sweep = sweep_of(touchstone_examples.ONE_PORT_S, "x.s1p")
    assert sweep.freq_hz.tolist() == [2e6]
    assert sweep.s[0, 0, 0] == pytest.approx(polar(0.894, -12.136), abs=1e-15)
    assert sweep.z0_ohm.tolist() == [50]


def test_one_port_z_is_normalised_in_version_1_and_not_in_version_2() -> None:
    # source: example 7 of the 2.0 document in both syntaxes; 75 x each value, checked by hand
    old = "# MHz Z MA R 75\n" + "".join(f"{f} {m} {a}\n" for f, m, a in touchstone_examples.ONE_PORT_Z)
    body = "".join(
        f"{f} {ohm} {a}\n"
        for (f, _, a), ohm in zip(
            touchstone_examples.ONE_PORT_Z, touchstone_examples.ONE_PORT_Z_OHM, strict=True
        )
    )
    new = touchstone_examples.version_2(
        "[Number of Ports] 1\n[Number of Frequencies] 5\n[Reference] 75\n", body, "# MHz Z MA"
    )
    old_sweep, new_sweep = sweep_of(old, "x.s1p"), sweep_of(new + "[End]\n", "x.ts")
    np.testing.assert_allclose(old_sweep.s, new_sweep.s, rtol=0, atol=1e-12)
    z = polar(74.25, -4)
    assert old_sweep.s[0, 0, 0] == pytest.approx((z - 75) / (z + 75), abs=1e-12)  # textbook Gamma
    assert old_sweep.freq_hz.tolist() == [1e8, 2e8, 3e8, 4e8, 5e8]


def test_two_port_real_and_imaginary() -> None:
    sweep = sweep_of(touchstone_examples.TWO_PORT_RI, "x.s2p")
    assert sweep.freq_hz.tolist() == [1e9, 2e9, 1e10]
    assert sweep.s[:, 0, 0].tolist() == [0.3926 - 0.1211j, 0.3517 - 0.3054j, 0.3419 + 0.3336j]
    assert sweep.s[:, 1, 0].tolist() == [-0.0003 - 0.0021j, -0.0096 - 0.0298j, -0.0134 + 0.0379j]
    # the printed example repeats S21 and S11: in a bench file that is how one direction looks
    assert sweep.measured.tolist() == [[True, False], [True, False]]


def test_two_port_with_noise_data_drops_the_noise() -> None:
    for text, name, references in (
        (touchstone_examples.WITH_NOISE, "x.s2p", [50, 50]),
        (touchstone_examples.WITH_NOISE_2, "x.ts", [50, 25]),
    ):
        sweep = sweep_of(text, name)
        assert sweep.freq_hz.tolist() == [2e9, 22e9]
        assert sweep.s[0, 0, 0] == pytest.approx(polar(0.95, -26), abs=1e-15)
        assert sweep.s[0, 1, 0] == pytest.approx(polar(3.57, 157), abs=1e-15)
        assert sweep.s[0, 0, 1] == pytest.approx(polar(0.04, 76), abs=1e-15)
        assert sweep.s[1, 1, 1] == pytest.approx(polar(0.56, -85), abs=1e-15)
        assert sweep.z0_ohm.tolist() == references
        assert any("noise data" in note for note in sweep.notes)


def test_order_12_21_is_not_swapped() -> None:
    # source: example 21 of the 2.1 document; taken as 21_12 it would swap 3.57/157 and .04/76
    head = "[Number of Ports] 2\n[Number of Frequencies] 2\n[Reference] 50 25\n[Two-Port Data Order] 12_21\n"
    sweep = sweep_of(
        touchstone_examples.version_2(head, touchstone_examples.NETWORK + "[End]\n", version="2.1"), "x.ts"
    )
    assert sweep.s[0, 0, 1] == pytest.approx(polar(3.57, 157), abs=1e-15)
    assert sweep.s[0, 1, 0] == pytest.approx(polar(0.04, 76), abs=1e-15)


def test_four_port() -> None:
    sweep = sweep_of(touchstone_examples.FOUR_PORT, "x.s4p")
    row = [polar(*pair) for pair in ((0.60, 161.24), (0.40, -42.20), (0.42, -66.58), (0.53, -79.34))]
    np.testing.assert_allclose(sweep.s[0, 0], row, atol=1e-15)
    assert sweep.s[0, 1, 1] == pytest.approx(polar(0.60, 161.20), abs=1e-15)


def test_reference_on_its_own_line() -> None:
    # source: example 4 of the 2.0 document: values n m at angle 0, references 50 75 0.01 0.01
    body = "1 11 0 12 0 13 0 14 0\n 21 0 22 0 23 0 24 0\n 31 0 32 0 33 0 34 0\n 41 0 42 0 43 0 44 0\n"
    head = "[Number of Ports] 4\n[Reference]\n50 75 0.01 0.01\n[Number of Frequencies] 1\n"
    sweep = sweep_of(touchstone_examples.version_2(head, body, "# GHz S MA R 50"), "x.ts")
    assert sweep.s[0].real.tolist() == [[10 * i + j for j in range(1, 5)] for i in range(1, 5)]
    assert sweep.z0_ohm.tolist() == [50, 75, 0.01, 0.01]
    assert any("no [End]" in note for note in sweep.notes)  # 2.0 examples lack it (TSIRD 4.1)


def test_one_reference_for_each_port_on_the_option_line() -> None:
    # source: option line of example 5 of the 2.1 document
    text = touchstone_examples.FOUR_PORT.replace("# GHz S MA R 50", "# GHz S MA R 0.01 0.01 50.0 50.0")
    assert sweep_of(text, "x.s4p").z0_ohm.tolist() == [0.01, 0.01, 50, 50]


def test_h_parameters_of_version_2() -> None:
    # source: example 12 of the 2.0 document; by hand from V1 = h11 I1 + h12 V2, I2 = h21 I1 + h22 V2
    head = (
        "[Number of Ports] 2\n[Two-Port Data Order] 21_12\n[Number of Frequencies] 1\n[Matrix Format] Full\n"
    )
    body = "2 .95 -26 3.57 157 .04 76 .66 -14\n"
    sweep = sweep_of(touchstone_examples.version_2(head, body, "# kHz H MA R 1"), "x.ts")
    h11, h21, h12, h22 = polar(0.95, -26), polar(3.57, 157), polar(0.04, 76), polar(0.66, -14)
    s = sweep.s[0]
    # drive port 1 through 1 ohm, load port 2 with 1 ohm: V2 = -I2
    i1 = 1.0
    v2 = -h21 * i1 / (1 + h22)
    v1 = h11 * i1 + h12 * v2
    assert s[0, 0] == pytest.approx((v1 - i1) / (v1 + i1), abs=1e-12)
    assert s[1, 0] == pytest.approx(2 * v2 / (v1 + i1), abs=1e-12)
    assert sweep.freq_hz.tolist() == [2e3]


def test_the_example_without_two_port_order_is_refused_with_the_question() -> None:
    # source: example 20 of the 2.0 and 2.1 documents, which lacks the keyword the document requires
    head = (
        "[Number of Ports] 2\n[Number of Frequencies] 2\n"
        "[Number of Noise Frequencies] 2\n[Reference] 50 25.0\n"
    )
    text = (
        touchstone_examples.version_2(head, touchstone_examples.NETWORK)
        + "[Noise Data]\n"
        + touchstone_examples.NOISE_2
        + "[End]\n"
    )
    error = refused(text, "x.ts", "port_order", 7)
    assert "S21 or S12" in error.detail
