"""The propagation of a budget, against closed forms and against counted draws."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.rf.analyser import Analyser
from measurements.rf.instruments import port2_match, port_errors, resistors
from measurements.rf.instruments.error_budget import ErrorTerm, add_in_squares, propagate
from tests.rf.certainty.simulated_analysers import draw_disc

ONE = np.ones(3, complex)


def real_part(values):
    return values["x"].real


@pytest.mark.parametrize(
    ("shape", "expected"),
    [
        ("disc", 1.0),  # closed form: 2 x 1/2 of the radius
        ("ring", np.sqrt(2)),  # 2 x 1/sqrt(2)
        ("interval", 2 / np.sqrt(3)),  # JCGM 100:2008, 4.3.7
        ("stray", 1 / np.sqrt(3) + 0.5),  # half the effect, and an interval of the other half
        ("repeat", 2.0),  # given as a standard deviation
    ],
)
def test_what_each_shape_contributes(shape, expected):
    u = propagate(real_part, {"x": ONE}, [ErrorTerm("any", shape, {"x": 0.1 * ONE})])
    assert np.allclose(u, 0.1 * expected)


def test_terms_add_in_squares_and_one_that_moves_two_readings_may_cancel():
    terms = [ErrorTerm("a", "disc", {"x": 0.3 * ONE}), ErrorTerm("b", "disc", {"x": 0.4 * ONE})]
    assert np.allclose(propagate(real_part, {"x": ONE}, terms), 0.5)
    both = [ErrorTerm("a", "disc", {"x": 0.3 * ONE, "y": 0.3 * ONE})]
    assert np.allclose(propagate(lambda v: (v["x"] - v["y"]).real, {"x": ONE, "y": ONE}, both), 0)
    assert np.allclose(add_in_squares(0.3 * np.ones(2), 0.4 * np.ones(2)), 0.5)


def test_the_larger_of_two_opposite_moves_counts():
    # closed form: 20 log10(1 +/- 0.5) is 3.52 and -6.02 dB
    def decibels(values):
        return 20 * np.log10(np.abs(values["x"]))

    u = propagate(decibels, {"x": ONE}, [ErrorTerm("a", "interval", {"x": 0.5 * ONE})])
    assert np.allclose(u, 2 / np.sqrt(3) * 6.0206, atol=1e-4)


def test_an_undefined_move_promises_nothing():
    def inverse(values):
        out = np.full(values["x"].shape, np.nan)
        np.divide(1, values["x"].real, out=out, where=values["x"].real > 0)
        return out

    assert np.isnan(propagate(inverse, {"x": ONE}, [ErrorTerm("a", "disc", {"x": ONE})])).all()


def test_several_figures_come_out_together():
    both = propagate(
        lambda v: np.stack([v["x"].real, 2 * v["x"].real]),
        {"x": ONE},
        [ErrorTerm("a", "disc", {"x": 0.1 * ONE})],
    )
    assert np.allclose(both, [[0.1] * 3, [0.2] * 3])


def test_ninety_five_percent_of_draws_lie_inside():
    # counted: a reflection of 0.3 read with directivity, tracking and source match in discs of 0.01
    rng = np.random.default_rng(4)
    gamma, size = 0.3 + 0.2j, 0.01
    d, t, m = ([draw_disc(rng, size) for _ in range(4000)] for _ in range(3))
    read = np.array(d) + (1 + np.array(t)) * gamma / (1 - np.array(m) * gamma)
    analyser = Analyser(reflection_residual=size, drift_db=0.0, noise=0.0)
    terms = port_errors.list_reflection_terms(analyser, {"x": np.array([gamma])})
    u = propagate(lambda v: np.abs(v["x"]), {"x": np.array([gamma])}, terms)[0]
    assert 0.94 < np.mean(np.abs(np.abs(read) - abs(gamma)) <= u) < 0.985


def test_port_2_is_taken_out_exactly():
    # closed form: voltage of a source of 50 ohm through Z into Z2, relative to the closed jig
    g2, z = 0.08 - 0.06j, np.array([900 + 300j, 20 - 4000j])
    z2 = 50 * (1 + g2) / (1 - g2)
    through = (50 + z2) / (50 + z2 + z)
    assert np.allclose(port2_match.correct_series_impedance(through, np.full(2, g2), 50.0), z)
    s = np.array([[0.2 + 0.1j, 0.6], [0.6, -0.3j]])
    seen = np.empty((1, 2, 2), complex)
    for i, o in ((0, 1), (1, 0)):  # driven from either end, with port 2 beyond
        seen[0, i, i] = s[i, i] + s[i, o] * s[o, i] * g2 / (1 - s[o, o] * g2)
        seen[0, o, i] = s[o, i] / (1 - s[o, o] * g2)
    assert np.allclose(port2_match.correct_two_port(seen, np.array([g2]))[0], s, atol=1e-9)


def test_strays_of_a_resistor():
    # closed form at 10 MHz: 0.5 pF is -j31.8 kohm across, 10 nH is j0.628 ohm along
    across, along = resistors.compute_stray_changes_ohm(np.array([10e6]), 2450.0)
    beside = 1 / (2j * np.pi * 10e6 * 0.5e-12)
    assert np.allclose(across, 2450 * beside / (2450 + beside) - 2450)
    assert np.allclose(along, 0.62832j, atol=1e-5)
    # nobody measured it: 5 %; read off the part: 5 %; measured: 1 %; described: as described
    cases = ((None, 0.05), (150.0, 0.05), (149.2, 0.01))
    for given, expected in cases:
        assert resistors.get_tolerance(Analyser(), given, 150.0) == expected
        assert resistors.get_tolerance(Analyser(resistor_percent=2.0), given, 150.0) == 0.02
