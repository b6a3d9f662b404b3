"""A circuit is built from each drawing's own netlist: it has the S-parameters that the analysis assumes.

A device is a transformer or a choke written here as an admittance matrix on its four terminals (textbook
stamps), the analyser two sources of 50 ohm. Nothing of the code under test computes the circuit.
"""

from __future__ import annotations

import numpy as np
import pytest

from measurements.pages.guide.drawings import catalogue
from measurements.pages.guide.drawings.nets import find_nets

OPEN_S = 1e-9  # keeps a node that nothing joins from floating


def solve_s(scene, stamps: dict[tuple[str, str], complex], ports: int) -> np.ndarray:
    """S (P, P) at 50 ohm. stamps: admittances between named pins; shields of unjoined ports float apart."""
    nets = sorted(find_nets(scene), key=sorted)
    node = {pin: index for index, net in enumerate(nets) for pin in net}
    size = len(nets)
    matrix = np.eye(size, dtype=complex) * OPEN_S

    def add(one: str, other: str, y: complex) -> None:
        a, b = node[one], node[other]
        for first, second, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
            matrix[first, second] += sign * y

    for (one, other), y in stamps.items():
        add(one, other, y)
    pairs = [(f"port {n} centre", f"port {n} shield") for n in range(1, ports + 1)]
    for centre, shield in pairs:
        add(centre, shield, 1 / 50)
    s = np.zeros((ports, ports), complex)
    for j, (centre, shield) in enumerate(pairs):
        current = np.zeros(size, complex)
        current[node[centre]], current[node[shield]] = 1 / 25, -1 / 25  # 2 V behind 50 ohm
        volts = np.linalg.solve(matrix, current)
        for i, (c, s_) in enumerate(pairs):
            s[i, j] = volts[node[c]] - volts[node[s_]] - (i == j)
    return s


def choke(name: str, z_ohm: complex) -> dict[tuple[str, str], complex]:
    """Two wires, each of 2 Z in common mode and of 0.01 ohm along itself when the other carries it back."""
    return {
        (f"{name} centre", f"{name} A"): 1 / (2 * z_ohm),
        (f"{name} shell", f"{name} B"): 1 / (2 * z_ohm),
    }


@pytest.mark.parametrize("role", ["sweep", "sweep_reversed"])
@pytest.mark.parametrize("z_ohm", [900, 995j, 3000 - 2000j])
def test_common_mode_is_one_impedance_in_series(role, z_ohm):
    scene = catalogue.get_sketch("common_mode", None, role).scene()
    name = "device" if role == "sweep" else "device turned round"
    s = solve_s(scene, choke(name, z_ohm), 2)
    assert s[1, 0] == pytest.approx(100 / (100 + z_ohm), abs=1e-5)
    assert s[0, 0] == pytest.approx(z_ohm / (100 + z_ohm), abs=1e-5)


@pytest.mark.parametrize(("role", "through"), [("jig_through", 1.0), ("jig_short", 1.0), ("jig_open", 0.0)])
def test_the_jig_alone(role, through):
    s = solve_s(catalogue.get_sketch("common_mode", None, role).scene(), {}, 2)
    assert s[1, 0] == pytest.approx(through, abs=1e-4)


@pytest.mark.parametrize(
    ("role", "reflection"), [("far_open", 1.0), ("far_short", -1.0), ("far_load", (200 - 50) / (200 + 50))]
)
def test_one_port_through_a_plain_device(role, reflection):
    """A device of two plain wires shows what its far side holds: open, short, 200 ohm."""
    scene = catalogue.get_sketch("insertion_loss", "one_port", role).scene()
    wires = {("device centre", "device A"): 1e4, ("device shell", "device B"): 1e4}
    load = {("R 1", "R 2"): 1 / 200} if role == "far_load" else {}
    assert solve_s(scene, wires | load, 1)[0, 0] == pytest.approx(reflection, abs=1e-3)


@pytest.mark.parametrize(("role", "reflection"), [("open", 1.0), ("short", -1.0), ("load", 0.0)])
def test_the_calibration_standards(role, reflection):
    scene = catalogue.get_sketch("calibration", None, role).scene()
    load = {("50 ohm 1", "50 ohm 2"): 1 / 50} if role == "load" else {}
    assert solve_s(scene, load, 1)[0, 0] == pytest.approx(reflection, abs=1e-4)


def test_the_series_resistor_is_in_series():
    """A plain 1:1 and Rs: S21 = 100 / (100 + Rs), the loss of a series resistor (textbook)."""
    scene = catalogue.get_sketch("insertion_loss", "series_resistor", "sweep").scene()
    wires = {("device centre", "device A"): 1e4, ("device shell", "device B"): 1e4, ("Rs 1", "Rs 2"): 1 / 150}
    assert solve_s(scene, wires, 2)[1, 0] == pytest.approx(100 / 250, abs=1e-3)


@pytest.mark.parametrize("role", ["sweep", "sweep_bypassed"])
def test_at_the_feed_point_the_antenna_is_what_is_seen(role):
    scene = catalogue.get_sketch("in_situ", None, role).scene()
    wires = {("device centre", "device A"): 1e4, ("device shell", "device B"): 1e4} if role == "sweep" else {}
    antenna = {("antenna leg 1", "antenna leg 2"): 1 / (70 + 20j)}
    expected = (70 + 20j - 50) / (70 + 20j + 50)
    assert solve_s(scene, wires | antenna, 1)[0, 0] == pytest.approx(expected, abs=1e-3)
