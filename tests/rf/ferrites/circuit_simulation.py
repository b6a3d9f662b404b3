"""A circuit solved node by node (modified nodal analysis), for tests: independent of the code under test.

Elements are admittances and ideal transformers between numbered nodes, 0 is the reference. Textbook method
(Ho, Ruehli and Brennan, IEEE Trans. CAS-22 (1975) 504-509, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np


@dataclass
class Circuit:
    """One frequency. Add elements, then solve."""

    admittances: list[tuple[int, int, complex]] = field(default_factory=list)
    transformers: list[tuple[int, int, int, int, float]] = field(default_factory=list)

    def join(self, first: int, other: int, z_ohm: complex) -> None:
        self.admittances.append((first, other, 1 / z_ohm))

    def join_capacitor(self, first: int, other: int, farad: float, freq_hz: float) -> None:
        self.admittances.append((first, other, 2j * np.pi * freq_hz * farad))

    def step(self, near: tuple[int, int], far: tuple[int, int], ratio: float) -> None:
        """An ideal transformer: V(far) = ratio V(near), I(near) = ratio I(far)."""
        self.transformers.append((*near, *far, ratio))

    def voltages(self, source: int, source_ohm: float, emf: float = 1.0) -> np.ndarray:
        """Node voltages with a source of `emf` behind `source_ohm` from node 0 to `source`."""
        used = [node for row in self.admittances for node in row[:2]]
        used += [node for row in self.transformers for node in row[:4]] + [source]
        nodes, extra = max(used), len(self.transformers)
        matrix = np.zeros((nodes + 1 + extra, nodes + 1 + extra), complex)
        drive = np.zeros(nodes + 1 + extra, complex)
        for first, other, y in [*self.admittances, (source, 0, 1 / source_ohm)]:
            matrix[first, first] += y
            matrix[other, other] += y
            matrix[first, other] -= y
            matrix[other, first] -= y
        for index, (a, b, c, d, ratio) in enumerate(self.transformers):
            row = nodes + 1 + index
            for node, sign in ((c, 1.0), (d, -1.0), (a, -ratio), (b, ratio)):
                matrix[row, node] += sign
                matrix[node, row] += sign
        drive[source] += emf / source_ohm
        matrix[0], drive[0] = 0, 0
        matrix[0, 0] = 1
        return np.linalg.solve(matrix, drive)


def loss_and_swr(circuit: Circuit, near: int, far: tuple[int, int], load_ohm: float) -> tuple[float, float]:
    """Transducer loss, dB, and input SWR of a circuit that has its load in it, from 50 ohm at node `near`."""
    s11, loss_db = reflect(circuit, near, far, load_ohm)
    return loss_db, (1 + abs(s11)) / (1 - abs(s11))


def reflect(circuit: Circuit, near: int, far: tuple[int, int], load_ohm: float) -> tuple[complex, float]:
    """S11 at 50 ohm, and transducer loss, dB."""
    volts = circuit.voltages(near, 50.0)
    delivered = abs(volts[far[0]] - volts[far[1]]) ** 2 / load_ohm
    return complex(2 * volts[near] - 1), float(-10 * np.log10(delivered * 4 * 50.0))


def transformer(freq_hz: float, load_ohm: float, **parts) -> tuple[float, float]:
    """Loss and SWR of a voltage device into its load."""
    return loss_and_swr(build_transformer(freq_hz, load_ohm, **parts), 1, (4, 0), load_ohm)


def build_transformer(freq_hz: float, load_ohm: float, **parts) -> Circuit:
    """A voltage device into its load. parts: zm, step, leakage_h, copper_ohm, share, near_f, far_f,
    series_ohm.
    """
    circuit = Circuit()
    series = parts.get("copper_ohm", 0.0) + 2j * np.pi * freq_hz * parts.get("leakage_h", 0.0)
    share = parts.get("share", 0.0)
    circuit.join_capacitor(1, 0, parts.get("near_f", 0.0), freq_hz)
    circuit.join(1, 2, share * series + parts.get("series_ohm", 0.0) + 1e-9)
    circuit.join(2, 0, parts["zm"])
    circuit.join(2, 3, (1 - share) * series + 1e-9)
    circuit.step((3, 0), (4, 0), parts["step"])
    circuit.join_capacitor(4, 0, parts.get("far_f", 0.0), freq_hz)
    circuit.join(4, 0, load_ohm)
    return circuit


SECTIONS = 24


def lines(freq_hz: float, load_ohm: float, count: int, line_ohm: float, delay_s: float, zcm: complex,
          ground: int | None = None) -> tuple[float, float]:  # fmt: skip
    """A current device into a floating load: each line a ladder of L and C, then a 1:1 transformer on a core.

    Line k runs from the input to its own ladder; the choke lets its end float. Node 0 is the shield.
    ground: None
    floats the load.
    """
    circuit, node = Circuit(), 2
    inductance, capacitance = line_ohm * delay_s / SECTIONS, delay_s / line_ohm / SECTIONS
    ends: list[tuple[int, int]] = []
    for _ in range(count):
        at = 1
        for _ in range(SECTIONS):
            circuit.join_capacitor(at, 0, capacitance / 2, freq_hz)
            circuit.join(at, node, 2j * np.pi * freq_hz * inductance)
            circuit.join_capacitor(node, 0, capacitance / 2, freq_hz)
            at, node = node, node + 1
        ends.append((at, node))
        node += 2
    for at, out in ends:  # both wires have the same voltage along them: an ideal 1:1, and the core beside one
        circuit.step((at, out), (0, out + 1), 1.0)
        circuit.join(at, out, zcm)
    for (_, upper), (_, lower) in pairwise(ends):
        circuit.join(upper + 1, lower, 1e-6)
    top, bottom = ends[0][1], ends[-1][1] + 1
    circuit.join(top, bottom, load_ohm)
    if ground is not None:
        circuit.join(bottom, 0, 1e-6)
    return loss_and_swr(circuit, 1, (top, bottom), load_ohm)
