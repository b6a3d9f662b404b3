"""The mirror: what two like devices back to back tell about one of them.

A pair of like devices with their high sides joined is symmetric about the joint. By Bartlett's bisection
theorem S11+S21 of the pair is one device's input reflection with its far side open, and S11-S21 with its
far side shorted (own derivation). One equation is missing for the whole two-port:

- a `far_load` sweep of one of the devices closes it, and nothing is assumed; or
- the device is taken to look alike from both ends once the ratio is taken out (leakage and winding
  capacitance split alike): q = n^2 Zo, which in reflections is S22 = S11 with references (Z0, n^2 Z0).

How wrong the second can be is bounded by the two lopsided devices with the same open and short
reflections: all series impedance at the near end and all shunt admittance at the far end, and the reverse
(q = n^2 (Zo-Zs) and q = n^2 Zo^2/(Zo-Zs)); the even split lies between them.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from . import two_port
from .sweep import Complexes, Floats


class Ends(NamedTuple):
    """One device's input reflections, (F,) each, with its far side open and shorted."""

    far_open: Complexes
    far_short: Complexes


def ends(s11: Complexes, s21: Complexes) -> Ends:
    """One device's ends from the pair's S11 (mean of S11 and S22 if both were measured) and S21."""
    return Ends(s11 + s21, s11 - s21)


def is_crossed(freq_hz: Floats, s21: Complexes) -> bool:
    """True where the joint turns the polarity over (its two wires crossed): S21 of the pair starts near -1.

    Judged over the lower half (in octaves) of the sweep, where a device's delay is small. Crossed wires
    exchange open and short; S21 of the pair is then to be taken negative before `ends`.
    """
    usable = np.isfinite(s21)
    low = usable & (freq_hz <= np.sqrt(max(freq_hz[0], 1.0) * freq_hz[-1]))
    return bool(np.sum(s21.real[low if low.any() else usable]) < 0)


def load_if_alike(s11: Complexes, s21: Complexes) -> Complexes:
    """One device's reflection in its nominal load if both its ends are alike: S11/(1+S21) of the pair."""
    return two_port.divided(s11, 1 + s21)


def load_if_series_first(far_open: Complexes, far_short: Complexes) -> Complexes:
    """The same if all series impedance is at the near end and all shunt admittance at the far end.

    D = 1 after the ratio: with zo, zs in units of Z0, z = (zo + zs (zo-zs))/(1 + zo - zs), written
    in reflections and cleared of fractions so that zo may be infinite and zs zero.
    """
    o, s = far_open, far_short
    top = (1 + o) * (1 - s) ** 2 + 2 * (1 + s) * (o - s)
    bottom = (1 - s) * ((1 - o) * (1 - s) + 2 * (o - s))
    return two_port.divided(top - bottom, top + bottom)


def load_if_shunt_first(far_open: Complexes, far_short: Complexes) -> Complexes:
    """The same if all shunt admittance is at the near end: the dual of `load_if_series_first`."""
    return -load_if_series_first(-far_short, -far_open)
