"""Equivalent circuit of a ratio device: what a transformer or a set of line transformers does between two
ports.

A voltage device (autotransformer, transformer, bifilar or trifilar winding on one core) is, from the
unbalanced
side on: capacitance and magnetising impedance across it, leakage and copper in series, an ideal step of
turns,
capacitance across the far side. A current device is so many equal lines, in parallel at the near side and in
series at the far one, each on a core of its own. Textbook circuits; the closed forms beside each function
were
derived for this project, and the tests hold them against a nodal analysis.

Arrays are (..., F); a two-port is (..., F, 2, 2), chain (ABCD) form. Port 1 is the unbalanced side.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import ArrayLike

from measurements.rf.impedance_ratio import NOMINAL_OHM
from measurements.rf.networks import two_port
from measurements.rf.sweeps.sweep import Complexes, Floats

MU0_H_PER_M = 4e-7 * np.pi
COPPER_OHM_M = 1.72e-8  # resistivity at 20 C (textbook)


@dataclass(frozen=True)
class TransformerParts:
    """Parts of a voltage device. Each is a number or an array that broadcasts to (..., F).

    magnetising_ohm: of the near winding, complex. turns_ratio: far over near turns, positive.
    leakage_h, copper_ohm: in series, as seen from the near side. near_share: how much of both lies on the
    near
    side of the magnetising impedance, 0 to 1. near_f, far_f: capacitance across either side, farad.
    """

    magnetising_ohm: ArrayLike
    turns_ratio: float
    leakage_h: Floats | float = 0.0
    copper_ohm: Floats | float = 0.0
    near_share: Floats | float = 0.0
    near_f: Floats | float = 0.0
    far_f: Floats | float = 0.0


@dataclass(frozen=True)
class LineParts:
    """Parts of a current device: `lines` equal lines. line_ohm: characteristic impedance of one.

    delay_s: of one line. copper_ohm: of both its conductors, in series. choking_ohm: common-mode impedance of
    one line on its own core, complex. near_f, far_f: capacitance across either side, farad.
    """

    choking_ohm: ArrayLike
    lines: int
    line_ohm: Floats | float
    delay_s: Floats | float
    copper_ohm: Floats | float = 0.0
    near_f: Floats | float = 0.0
    far_f: Floats | float = 0.0


def build_transformer_abcd(freq_hz: Floats, parts: TransformerParts) -> Complexes:
    """Build ABCD (..., F, 2, 2) of a voltage device."""
    omega_j = 2j * np.pi * freq_hz
    series_ohm = parts.copper_ohm + omega_j * parts.leakage_h
    return _cascade(
        _shunt(omega_j * parts.near_f),
        _series(series_ohm * parts.near_share),
        _shunt(1 / np.asarray(parts.magnetising_ohm)),
        _series(series_ohm * (1 - np.asarray(parts.near_share))),
        np.diag([1 / parts.turns_ratio, parts.turns_ratio]).astype(np.complex128),
        _shunt(omega_j * parts.far_f),
    )


def build_lines_abcd(freq_hz: Floats, parts: LineParts) -> Complexes:
    """Build ABCD (..., F, 2, 2) of a current device into a load that floats.

    A line (a, b, c, d) gives (a/n, b, c, n d) of n in parallel and in series. With a floating load the lines'
    common-mode voltages are V1 times k - (n-1)/2, so the cores take V1^2 n (n^2-1)/(12 Z): an impedance of
    12 Z / (n (n^2-1)) across the near side (own derivation). Copper counts half at either end.
    """
    count = parts.lines
    angle = 2 * np.pi * freq_hz * parts.delay_s
    line_ohm = np.asarray(parts.line_ohm, dtype=np.float64)
    line = _stack(np.cos(angle), 1j * line_ohm * np.sin(angle), 1j * np.sin(angle) / line_ohm, np.cos(angle))
    copper = _series(np.asarray(parts.copper_ohm) / 2)
    line = _cascade(copper, line, copper)
    joined = _stack(line[..., 0, 0] / count, line[..., 0, 1], line[..., 1, 0], count * line[..., 1, 1])
    core_s = count * (count**2 - 1) / (12 * np.asarray(parts.choking_ohm))
    omega_j = 2j * np.pi * freq_hz
    return _cascade(_shunt(core_s + omega_j * parts.near_f), joined, _shunt(omega_j * parts.far_f))


def build_copper_ohm(freq_hz: Floats, length_m: float, copper_mm: float) -> Floats:
    """Compute the resistance (F,) of a round wire whose current flows within the skin depth (textbook).

    R = rho l / (pi d delta), delta = sqrt(rho / (pi f mu0)). It holds where the wire is several skin depths
    thick, as 0.3 mm is above 1 MHz.
    """
    depth_m = np.sqrt(COPPER_OHM_M / (np.pi * freq_hz * MU0_H_PER_M))
    found: Floats = COPPER_OHM_M * length_m / (np.pi * copper_mm * 1e-3 * depth_m)
    return found


@dataclass(frozen=True)
class LoadedFigures:
    """A two-port between 50 ohm and `ratio` times 50 ohm, each (..., F). Loss is mismatch and dissipation."""

    s11: Complexes
    loss_db: Floats
    mismatch_db: Floats
    swr: Floats

    @property
    def dissipative_db(self) -> Floats:
        """Compute the part of the loss that turns into heat, dB."""
        return self.loss_db - self.mismatch_db


def compute_loaded_figures(abcd: Complexes, ratio: float, load_ohm: float | None = None) -> LoadedFigures:
    """Compute match and loss between 50 ohm and the nominal load, or `load_ohm` where another one was used.

    From ABCD with real z1, z2: D = A z2 + B + C z1 z2 + D z1, S21 = 2 sqrt(z1 z2)/D,
    S11 = (A z2 + B - C z1 z2 - D z1)/D (Frickey 1994 form). No passive device has D = 0.
    """
    near_ohm, far_ohm = NOMINAL_OHM, ratio * NOMINAL_OHM if load_ohm is None else load_ohm
    by_voltage = abcd[..., 0, 0] * far_ohm + abcd[..., 0, 1]
    by_current = near_ohm * (abcd[..., 1, 0] * far_ohm + abcd[..., 1, 1])
    s21 = two_port.divide_or_nan(2 * np.sqrt(near_ohm * far_ohm), by_voltage + by_current)
    s11 = two_port.divide_or_nan(by_voltage - by_current, by_voltage + by_current)
    size = np.abs(s11)
    swr = np.real(two_port.divide_or_nan(1 + size, 1 - size))
    return LoadedFigures(s11, two_port.loss_db(s21), two_port.mismatch_db(s11), swr)


def _cascade(*matrices: Complexes) -> Complexes:
    found: Complexes = reduce(np.matmul, matrices)
    return found


def _stack(a: ArrayLike, b: ArrayLike, c: ArrayLike, d: ArrayLike) -> Complexes:
    cells = np.broadcast_arrays(*(np.asarray(each, dtype=np.complex128) for each in (a, b, c, d)))
    found: Complexes = np.stack(cells, axis=-1).reshape(*cells[0].shape, 2, 2)
    return found


def _series(z_ohm: ArrayLike) -> Complexes:
    z = np.asarray(z_ohm, dtype=np.complex128)
    return _stack(np.ones_like(z), z, np.zeros_like(z), np.ones_like(z))


def _shunt(y_s: ArrayLike) -> Complexes:
    y = np.asarray(y_s, dtype=np.complex128)
    return _stack(np.ones_like(y), np.zeros_like(y), y, np.ones_like(y))
