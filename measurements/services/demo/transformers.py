"""The demo's devices as they carry a signal: two-ports from the unbalanced side to the other one.

Three kinds: a line wound on a core (1:1), two lines in parallel at one end and in series at the other
(4:1 current balun, after Guanella), and coupled windings (everything else). Line impedances, losses and
leakage are our own estimates, common practice without a source.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from measurements.rf.impedance_ratio import parse_ratio
from measurements.rf.networks.two_port import build_series_abcd, stack_two_port
from measurements.rf.sweeps.sweep import Complexes, Floats
from measurements.services.demo.windings import (
    BuildVariation,
    choke_z_ohm,
    get_core_size_mm,
    get_wire_mm,
    magnetising_z_ohm,
)

LIGHT_M_PER_S = 299_792_458.0  # exact, the SI
Z0_OHM = 50.0  # of the analyser
COAX_OHM = 50.0
PAIR_OHM = {"bifilar": 62.0, "twisted_pair": 90.0, "parallel_wires": 100.0}
VELOCITY = 0.7
LEADS_M = 0.12
LOSS_DB_PER_M = 0.045  # at 1 MHz in a line of 1 mm, falling with thickness, rising with sqrt(f)
COUPLED = ("bifilar", "trifilar")
LEAKAGE_H = {True: 30e-9, False: 65e-9}  # seen from the unbalanced side: wires side by side or not
WINDING_OHM = 0.12
FAR_STRAY_F = 2e-12
STEEP_RATIO = 25  # beyond it builders put a capacitor across the primary
PRIMARY_F = 68e-12


def compute_two_port(recipe: Mapping[str, Any], made: BuildVariation, freq_hz: Floats) -> Complexes:
    """Return ABCD (F, 2, 2) of a device from its unbalanced side to the far one."""
    ratio = float(parse_ratio(recipe["ratio"]))
    if ratio == 1:
        return _compute_line(recipe, made, freq_hz)
    if recipe["principle"] == "current" and ratio == 4:
        return _compute_two_lines(recipe, made, freq_hz)
    return _compute_coupled(recipe, made, math.sqrt(ratio), freq_hz)


def compute_shunt_abcd(siemens: Complexes) -> Complexes:
    """Return ABCD (F, 2, 2) of an admittance across both ports."""
    one = np.ones(siemens.shape, complex)
    return stack_two_port(one, 0 * one, siemens, one)


def input_z_ohm(abcd: Complexes, far_siemens: Complexes | float) -> Complexes:
    """Return impedance (F,) at port 1 with an admittance across port 2; 0 leaves it open."""
    top = abcd[:, 0, 0] + abcd[:, 0, 1] * far_siemens
    return top / (abcd[:, 1, 0] + abcd[:, 1, 1] * far_siemens)


def compute_balanced_ports(
    recipe: Mapping[str, Any], made: BuildVariation, freq_hz: Floats
) -> tuple[Complexes, ...]:
    """Return S11, S21 and S31 (F,) of a 1:1 device: port 1 unbalanced, 2 and 3 a far terminal each against
    shield.

    The inner conductor's current is all line current; what is left of it in the outer one flows through
    the choke from shield to terminal 3, so V3 = -V2 Zcm/(Z0 + Zcm) with Z0 at either terminal.
    """
    line, choke = _compute_line(recipe, made, freq_hz), choke_z_ohm(recipe, made, freq_hz)
    opposite = choke / (Z0_OHM + choke)
    across = 1 + opposite
    v1 = line[:, 0, 0] * across + line[:, 0, 1] / Z0_OHM
    i1 = line[:, 1, 0] * across + line[:, 1, 1] / Z0_OHM
    s21 = 2 / (v1 + Z0_OHM * i1)
    return v1 * s21 - 1, s21, -opposite * s21


def _compute_line(recipe: Mapping[str, Any], made: BuildVariation, freq_hz: Floats) -> Complexes:
    """Return a transmission line of the winding's length, with copper loss."""
    winding = recipe["winding"]
    z_ohm = made.line * PAIR_OHM.get(winding["style"], COAX_OHM)
    loss_db = LOSS_DB_PER_M / math.sqrt(get_wire_mm(winding)) * np.sqrt(freq_hz / 1e6)
    neper = loss_db * math.log(10) / 20
    gamma = neper + 2j * np.pi * freq_hz / (VELOCITY * LIGHT_M_PER_S)
    angle = gamma * _length_m(recipe)
    return stack_two_port(np.cosh(angle), z_ohm * np.sinh(angle), np.sinh(angle) / z_ohm, np.cosh(angle))


def _compute_two_lines(recipe: Mapping[str, Any], made: BuildVariation, freq_hz: Floats) -> Complexes:
    """Return two like lines, parallel at the unbalanced side and in series at the other one.

    V1 = A V2/2 + B I2, I1 = C V2 + 2 D I2 with A to D of one line. The analyser's far port is grounded at
    one end, so that half the far voltage, which is V1, stands along one of the two chokes.
    """
    line = _compute_line(recipe, made, freq_hz)
    a, b, c, d = line[:, 0, 0], line[:, 0, 1], line[:, 1, 0], line[:, 1, 1]
    one_choke = 2 * choke_z_ohm(recipe, made, freq_hz)
    return compute_shunt_abcd(1 / one_choke) @ stack_two_port(a / 2, b, c, 2 * d)


def _compute_coupled(recipe: Mapping[str, Any], made: BuildVariation, n: float, freq_hz: Floats) -> Complexes:
    """Return magnetising impedance at the unbalanced side, leakage in series, 1:n, capacitance at the far
    side.
    """
    winding = recipe["winding"]
    side_by_side = winding["style"] in COUPLED
    turns = float(winding["turns"]) if side_by_side else winding["turns"] / n
    across = 1 / magnetising_z_ohm(recipe, made, turns, freq_hz)
    omega = 2 * np.pi * freq_hz
    if n**2 > STEEP_RATIO:
        across = across + 1j * omega * PRIMARY_F
    leakage = WINDING_OHM + 1j * omega * made.leakage * LEAKAGE_H[side_by_side]
    one = np.ones(freq_hz.shape, complex)
    ideal = stack_two_port(one / n, 0 * one, 0 * one, n * one)
    far = compute_shunt_abcd(1j * omega * made.stray * FAR_STRAY_F)
    return compute_shunt_abcd(across) @ build_series_abcd(leakage, freq_hz.size) @ ideal @ far


def _length_m(recipe: Mapping[str, Any]) -> float:
    """Return length of the line: turns around the core's section with the wire's own thickness, and leads."""
    core, winding = recipe["cores"][0], recipe["winding"]
    outer_mm, inner_mm, height_mm = get_core_size_mm(core)
    if winding["style"] == "beads_on_coax":
        return LEADS_M + 1e-3 * core["stacked"] * height_mm
    turn_mm = 2 * core["stacked"] * height_mm + (outer_mm - inner_mm) + 4 * get_wire_mm(winding)
    return LEADS_M + 1e-3 * float(winding["turns"]) * turn_mm
