"""Files that scikit-rf 2.2 reads wrongly, or takes without a word: its number beside the right one."""

from __future__ import annotations

import io
import warnings

import numpy as np
import pytest
import skrf

from measurements.rf.sweeps.reading import read_sweep
from tests.rf.sweeps import touchstone_examples
from tests.rf.sweeps.refusals import refused

ROW = ".1 .2 .3 .4 .5 .6 .7 .8"
OPTION = "# MHz S RI R 50\n"


def network(text: str, name: str) -> skrf.Network:
    stream = io.StringIO(text)
    stream.name = name
    return skrf.Network(stream)


def two_port_file(parameter: str, matrix: np.ndarray) -> str:
    """Version 1, one point, R 50; matrix as it is written."""
    order = (matrix[0, 0], matrix[1, 0], matrix[0, 1], matrix[1, 1])
    row = " ".join(f"{z.real!r} {z.imag!r}" for z in map(complex, order))
    return f"# MHz {parameter} RI R 50\n1 {row}\n"


def measured_by_hand(parameter: str, matrix: np.ndarray, ohm: float = 50.0) -> np.ndarray:
    """S by Kirchhoff: drive either port through `ohm`, end the other in `ohm`, solve for V and I.

    matrix: in ohm and siemens. Unknown V1, V2, I1, I2; two rows of the definition, two of the terminations.
    """
    m = matrix
    rows = {
        "Z": [[1, 0, -m[0, 0], -m[0, 1]], [0, 1, -m[1, 0], -m[1, 1]]],
        "Y": [[-m[0, 0], -m[0, 1], 1, 0], [-m[1, 0], -m[1, 1], 0, 1]],
        "H": [[1, -m[0, 1], -m[0, 0], 0], [0, -m[1, 1], -m[1, 0], 1]],
        "G": [[-m[0, 0], 0, 1, -m[0, 1]], [-m[1, 0], 1, 0, -m[1, 1]]],
    }[parameter]
    s = np.empty((2, 2), complex)
    for driven in (0, 1):
        source = [2.0 if port == driven else 0.0 for port in (0, 1)]  # V + ohm I = 2 a sqrt(ohm)
        ends = [[1, 0, ohm, 0], [0, 1, 0, ohm]]
        v1, v2, i1, i2 = np.linalg.solve(np.array([*rows, *ends], complex), [0, 0, *source])
        s[:, driven] = (v1 - ohm * i1) / 2, (v2 - ohm * i2) / 2
    return s


GIVEN = np.array([[0.4 + 0.1j, 0.3 - 0.2j], [0.2 + 0.2j, 0.7 - 0.1j]])
OHM = 50.0
UNITS = {
    "Z": np.full((2, 2), OHM),
    "Y": np.full((2, 2), 1 / OHM),
    "H": np.array([[OHM, 1], [1, 1 / OHM]]),
    "G": np.array([[1 / OHM, 1], [1, OHM]]),
}


@pytest.mark.parametrize("parameter", ["Y", "G", "H"])
def test_y_g_and_h_of_version_1_are_not_multiplied_by_r(parameter):
    # Rev 1.1: Z, Y, G and H are normalised to R; scikit-rf multiplies each of them by R
    text = two_port_file(parameter, GIVEN)
    right = measured_by_hand(parameter, GIVEN * UNITS[parameter])
    assert np.abs(network(text, "a.s2p").s[0] - right).max() > 0.1
    assert np.abs(read_sweep(text.encode(), "a.s2p").s[0] - right).max() < 1e-12


def test_z_of_version_1_is_multiplied_by_r():
    text = two_port_file("Z", GIVEN)
    right = measured_by_hand("Z", GIVEN * OHM)
    assert np.abs(network(text, "a.s2p").s[0] - right).max() < 1e-12
    assert np.abs(read_sweep(text.encode(), "a.s2p").s[0] - right).max() < 1e-12


@pytest.mark.parametrize("h22", [0.0, 1e-7, 1e-4, 1e-2])
def test_an_ideal_transformer_in_h_has_no_z_matrix(h22):
    # h of a 1:2 transformer: h12 = 1/2, h21 = -1/2, h11 = 0; closed form
    h = np.array([[0, 0.5], [-0.5, h22]])
    text = two_port_file("H", h)
    right = measured_by_hand("H", h * UNITS["H"])
    if h22 == 0:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            assert not np.isfinite(skrf.network.h2s(h[None], 50)).all()
        assert np.abs(right - [[-0.6, 0.8], [0.8, 0.6]]).max() < 1e-15
    assert np.abs(read_sweep(text.encode(), "a.s2p").s[0] - right).max() < 1e-13
    g = np.array([[h22, -0.5], [0.5, 0]])
    right = measured_by_hand("G", g * UNITS["G"])
    assert np.abs(read_sweep(two_port_file("G", g).encode(), "a.s2p").s[0] - right).max() < 1e-13


@pytest.mark.parametrize("matrix", ["Lower", "Upper"])
@pytest.mark.parametrize("order", ["21_12", "12_21"])
def test_a_triangular_two_port_is_symmetric_in_either_order(matrix, order):
    head = (
        f"[Number of Ports] 2\n[Two-Port Data Order] {order}\n[Number of Frequencies] 1\n"
        f"[Matrix Format] {matrix}\n"
    )
    text = touchstone_examples.version_2(head, "1 .1 .2 .3 .4 .5 .6\n[End]\n", "# MHz S RI")
    right = [[0.1 + 0.2j, 0.3 + 0.4j], [0.3 + 0.4j, 0.5 + 0.6j]]
    assert read_sweep(text.encode(), "a.ts").s[0].tolist() == right


def test_scikit_rf_leaves_half_of_a_lower_two_port_unset():
    """It transposes, then mirrors the empty half: S21 and S12 are whatever the memory held."""
    head = "[Number of Ports] 2\n[Two-Port Data Order] 21_12\n[Number of Frequencies] 40\n"
    head += "[Matrix Format] Lower\n"
    body = "".join(f"{k + 1} .1 .2 .3 .4 .5 .6\n" for k in range(40))
    text = touchstone_examples.version_2(head, body + "[End]\n", "# MHz S RI")
    for _ in range(20):  # fills freed memory with something else than the answer
        np.full((40, 4), 9.0 + 9j)
    theirs = network(text, "a.ts").s[:, 1, 0]
    ours = read_sweep(text.encode(), "a.ts").s[:, 1, 0]
    assert (ours == 0.3 + 0.4j).all()
    assert not np.array_equal(theirs, ours)


def test_a_comment_overrules_the_reference_of_the_option_line():
    text = OPTION + f"1 {ROW}\n! Port Impedance 377 0 50 0\n"
    assert network(text, "a.s2p").z0[0, 0] == 377
    refused(text, "a.s2p", "port_impedance", 3)
    alike = OPTION + f"1 {ROW}\n! Port Impedance 50 0 50 0\n"
    assert read_sweep(alike.encode(), "a.s2p").z0_ohm.tolist() == [50, 50]


@pytest.mark.parametrize("word", ["nan", "inf", "-Infinity", "1e999"])
def test_a_value_that_is_not_finite(word):
    text = OPTION + f"1 {ROW}\n2 .1 {word} .3 .4 .5 .6 .7 .8\n"
    assert not np.isfinite(network(text, "a.s2p").s).all()
    refused(text, "a.s2p", "not_finite", 3)


def test_rows_out_of_order_are_dropped_as_noise():
    text = OPTION + f"1 {ROW}\n3 {ROW}\n2 {ROW}\n4 {ROW}\n"
    assert network(text, "a.s2p").f.tolist() == [1e6, 3e6]
    refused(text, "a.s2p", "frequency_order", 4)


def test_a_repeated_frequency_is_kept():
    text = OPTION + f"1 {ROW}\n1 {ROW}\n"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        assert network(text, "a.s2p").f.tolist() == [1e6, 1e6]
    refused(text, "a.s2p", "frequency_order", 3)


def test_options_in_another_order():
    # the document allows any order; scikit-rf takes the words by their place
    text = f"# S RI MHz R 50\n1 {ROW}\n"
    with pytest.raises(ValueError, match="illegal format value"):
        network(text, "a.s2p")
    assert read_sweep(text.encode(), "a.s2p").freq_hz.tolist() == [1e6]
