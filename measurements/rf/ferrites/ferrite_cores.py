"""Physics of a winding on a ferrite core: what impedance a recipe should show at small signals.

Permeability tables come in as arrays (they are reference data, not part of this room). A core enters
as its factor Ae/le in metres: a toroid's from its size, a stack's or a row of cores' as the sum.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.sweeps.sweep import Complexes, Floats

MU0_H_PER_M = 4e-7 * math.pi


@dataclass(frozen=True)
class Permeability:
    """Complex relative permeability mu' - j mu'' of one mix, as tabulated by its maker.

    freq_hz: (T,) rising, positive; mu_real, mu_imag: (T,). mu_real may be negative (above the
    resonance of the material); mu_imag is the positive loss part.
    Raises BenchnightError `mix.table` for a table that is not of that form.
    """

    freq_hz: Floats
    mu_real: Floats
    mu_imag: Floats

    def __post_init__(self) -> None:
        freq = np.asarray(self.freq_hz)
        same = freq.shape == np.shape(self.mu_real) == np.shape(self.mu_imag) and freq.ndim == 1
        if not same or freq.size < 2 or freq[0] <= 0 or not (np.diff(freq) > 0).all():
            raise BenchnightError(
                "mix.table",
                "A permeability table needs two rows or more of frequency, mu' and mu'' in rising frequency.",
                field="mix",
            )

    def covers(self, freq_hz: Floats) -> bool:
        """Say whether every frequency lies within the table."""
        freq = np.asarray(freq_hz)
        return bool(freq.size) and bool(freq.min() >= self.freq_hz[0] and freq.max() <= self.freq_hz[-1])

    def at(self, freq_hz: Floats) -> Complexes:
        """Return mu' - j mu'' at `freq_hz` (F,), each part linear in log frequency between rows.

        NaN outside the table: nothing is extrapolated. Ask `covers` first and say so.
        """
        position = np.log(np.asarray(freq_hz, dtype=np.float64))
        rows = np.log(self.freq_hz)
        real = np.interp(position, rows, self.mu_real, left=np.nan, right=np.nan)
        imag = np.interp(position, rows, self.mu_imag, left=np.nan, right=np.nan)
        return real - 1j * imag


def toroid_factor_m(outer_mm: float, inner_mm: float, height_mm: float) -> float:
    """Return Ae/le of a ring of rectangular section, h ln(OD/ID) / (2 pi), in metres.

    Raises BenchnightError `core.size` unless 0 < inner < outer and height > 0.
    """
    if not (0 < inner_mm < outer_mm and height_mm > 0):
        raise BenchnightError(
            "core.size",
            "A toroid needs an outer diameter above its inner one and a height above 0 mm.",
            field="cores",
        )
    return 1e-3 * height_mm * math.log(outer_mm / inner_mm) / (2 * math.pi)


def a_l_h(mu_initial: float, factor_m: float) -> float:
    """Return inductance per turn squared, mu0 mu_i Ae/le, in henry."""
    return MU0_H_PER_M * mu_initial * factor_m


def winding_z_ohm(
    freq_hz: Floats, mu: Complexes, turns: float, factor_m: float, stray_f: float = 0.0
) -> Complexes:
    """Return impedance (F,) of `turns` passes: j w mu0 N^2 (Ae/le)(mu' - j mu''), in parallel with stray C.

    mu: (F,) complex, as `Permeability.at` gives it; factor_m: the sum of Ae/le over all cores that
    the winding passes through; stray_f: farad, 0 for none. NaN where mu is NaN.
    """
    omega = 2 * np.pi * np.asarray(freq_hz, dtype=np.float64)
    z_ohm = 1j * omega * (MU0_H_PER_M * turns**2 * factor_m) * mu
    return add_stray_capacitance(freq_hz, z_ohm, stray_f)


def add_stray_capacitance(freq_hz: Floats, z_ohm: Complexes, stray_f: float) -> Complexes:
    """Return `z_ohm` (F,) with a capacitance in parallel, Z/(1 + j w C Z); NaN at a lossless resonance."""
    loading = 1 + 2j * np.pi * np.asarray(freq_hz, dtype=np.float64) * stray_f * z_ohm
    undefined: Complexes = np.full(loading.shape, complex(np.nan, np.nan))
    np.divide(z_ohm, loading, out=undefined, where=loading != 0)
    return undefined


@dataclass(frozen=True)
class InductanceCheck:
    """A measured low-frequency inductance against A_L N^2 of the recipe.

    `turns_that_fit` is what the measured value would take on this core: beside a wrong count it
    names the right one, beside a wrong mix nothing near.
    """

    expected_h: float
    low_h: float
    high_h: float
    agrees: bool
    turns_that_fit: float


def compare_inductance(measured_h: float, a_l: float, turns: int, tolerance: float = 0.25) -> InductanceCheck:
    """Say whether `measured_h` lies within the maker's tolerance (usually 20 to 25 %) of `a_l` N^2.

    a_l: henry per turn squared. Raises BenchnightError `winding.turns` for no turns or no core.
    """
    if turns < 1 or a_l <= 0 or measured_h <= 0:
        raise BenchnightError(
            "winding.turns",
            "An end check needs at least one turn, a core with a known A_L and a measured inductance.",
            field="winding",
        )
    expected = a_l * turns**2
    low, high = expected * (1 - tolerance), expected * (1 + tolerance)
    return InductanceCheck(expected, low, high, low <= measured_h <= high, math.sqrt(measured_h / a_l))
