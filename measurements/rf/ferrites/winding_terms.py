"""What the impedance of a winding depends on, as a few unknowns, and how it moves with each of them.

Common-mode impedance of a winding: `lines` parallel copies of j w L0 mu(f) beside a capacitance C.
  ln mu(f) = ln mu_table(f) + correction(f) + u      the correction per mix, complex, smooth in ln f
  ln C     = law(turns, wire, turn length, split, style) + v
Here u and v are one design's own, and beside them one device's: what hands and cores add. The form of the
law is our own (a power of each quantity, each style with its own factor): common practice gives no formula,
so it is fitted from evidence, starting from wide priors.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.winding_model import BEADS_STYLE, WINDING_STYLES, WindingModel
from measurements.rf.sweeps.sweep import Complexes, Floats

# Where a correction may bend, about an octave and a fifth apart; between them it is linear in ln f.
KNOTS_HZ: Floats = np.geomspace(0.25e6, 54e6, 8)

LAW_TERMS = (
    "level",
    "turns",
    "wire",
    "turn_length",
    "split",
    *(f"style:{style}" for style in WINDING_STYLES),
)

USUAL_TURNS, USUAL_WIRE_MM, USUAL_TURN_MM = 10.0, 3.0, 50.0

# Prior means and standard deviations of the law, natural logarithms (own estimates, common practice, no
# source): 3 pF for ten turns of 3 mm wire, growing less than in proportion to turns; a string of beads 0.4
# pF.
_LEVEL, _BEADS = (math.log(3e-12), 0.4), (math.log(0.4e-12), 0.8)

_SHAPE = {"turns": (0.5, 0.35), "wire": (0.3, 0.3), "turn_length": (0.3, 0.3), "split": (-0.2, 0.25)}

STYLE_SPREAD = 0.3

# Of a mix against its table: its level (makers state 20 % on A_L) and its shape, which varies over
# about two octaves; the phase of mu has no level of its own.
LEVEL_SPREAD, SHAPE_SPREAD, PHASE_SPREAD, SHAPE_OCTAVES = 0.10, 0.06, 0.06, 2.0


@dataclass(frozen=True)
class WindingTerms:
    """Z (F,) of a winding and its relative change with ln mu and with ln C, both (F,) complex."""

    z_ohm: Complexes
    by_mu: Complexes
    by_stray: Complexes


def compute_winding_terms(
    freq_hz: Floats, log_mu: Complexes, log_stray_f: float, wound: WindingModel
) -> WindingTerms:
    """Return the winding with `log_mu` (F,) of its core and the natural logarithm of one line's
    capacitance.
    """
    omega = 2 * np.pi * freq_hz
    core_s = np.exp(-log_mu) / (1j * omega * wound.l0_h)
    stray_s = 1j * omega * math.exp(log_stray_f)
    total_s = core_s + stray_s
    return WindingTerms(1 / (wound.lines * total_s), core_s / total_s, -stray_s / total_s)


def table_log_mu(table: Permeability, freq_hz: Floats) -> Complexes:
    """Return ln(mu' - j mu'') of the published table, NaN outside it."""
    return np.asarray(np.log(table.at(freq_hz)), dtype=np.complex128)


def compute_knot_shares(freq_hz: Floats) -> Floats:
    """Return (F, K): the share of every knot at each frequency; beyond the outer knots the outer one
    alone.
    """
    position = np.log(np.clip(freq_hz, KNOTS_HZ[0], KNOTS_HZ[-1]))
    knots = np.log(KNOTS_HZ)
    at = np.clip(np.searchsorted(knots, position, side="right") - 1, 0, knots.size - 2)
    share = (position - knots[at]) / (knots[at + 1] - knots[at])
    found: Floats = np.zeros((position.size, knots.size))
    rows = np.arange(position.size)
    found[rows, at], found[rows, at + 1] = 1 - share, share
    return found


def build_law_row(wound: WindingModel) -> Floats:
    """Return (len(LAW),): what the law's coefficients are multiplied with for this winding."""
    row: Floats = np.zeros(len(LAW_TERMS))
    if wound.beads:
        row[LAW_TERMS.index(f"style:{BEADS_STYLE}")] = 1.0
        return row
    wire_mm = USUAL_WIRE_MM if wound.wire_mm is None else wound.wire_mm
    row[:5] = (
        1.0,
        math.log(wound.turns / USUAL_TURNS),
        math.log(wire_mm / USUAL_WIRE_MM),
        math.log(wound.turn_mm / USUAL_TURN_MM),
        float(wound.split),
    )
    row[LAW_TERMS.index(f"style:{wound.style}")] = 1.0
    return row


def build_law_prior() -> tuple[Floats, Floats]:
    """Return mean (len(LAW),) and covariance of the law's coefficients before any evidence."""
    mean = [_LEVEL[0], *(_SHAPE[name][0] for name in LAW_TERMS[1:5]), *(0.0 for _ in WINDING_STYLES)]
    spread = [
        _LEVEL[1],
        *(_SHAPE[name][1] for name in LAW_TERMS[1:5]),
        *(STYLE_SPREAD for _ in WINDING_STYLES),
    ]
    mean[-1], spread[-1] = _BEADS
    return np.array(mean), np.diag(np.square(spread))


def build_correction_prior() -> Floats:
    """Return covariance (2K, 2K) of one mix's correction at the knots: its real parts, then its phases."""
    near = _exponential_correlation(np.log(KNOTS_HZ), SHAPE_OCTAVES * math.log(2))
    real = LEVEL_SPREAD**2 + SHAPE_SPREAD**2 * near
    found: Floats = np.zeros((2 * KNOTS_HZ.size, 2 * KNOTS_HZ.size))
    found[: KNOTS_HZ.size, : KNOTS_HZ.size] = real
    found[KNOTS_HZ.size :, KNOTS_HZ.size :] = PHASE_SPREAD**2 * near
    return found


def frequency_correlation(freq_hz: Floats) -> Floats:
    """Return (F, F): how alike what the model misses is at two frequencies; it changes over about an
    octave.
    """
    return _exponential_correlation(np.log(freq_hz), math.log(2))


def _exponential_correlation(position: Floats, length: float) -> Floats:
    apart = np.abs(position[:, None] - position[None, :]) / length
    near: Floats = np.exp(-apart)
    return near


# Which designs are most like a winding: thousands of them in one look.

OTHER_MIX, OTHER_KIND = 5.0, 2.0  # farther than any number of turns on the same mix; beads are no winding


class NearestWindings:
    """Windings by key. A distance of 1 is about two turns of twelve on the same core (house choice)."""

    def __init__(self, wounds: Mapping[str, WindingModel]) -> None:
        self.keys = list(wounds)
        given = list(wounds.values())
        self._log_h: Floats = np.array([_log_h(each) for each in given])
        self._lie: Floats = np.array([build_law_row(each) for each in given])
        self._mix = np.array([each.mix for each in given])
        self._beads = np.array([each.beads for each in given], dtype=np.bool_)

    def nearest(self, wound: WindingModel, most: int = 1) -> list[tuple[str, float]]:
        """Return keys and distances of the nearest, the likest first: inductance, then what the law sees."""
        if not self.keys:
            return []
        far = (
            2 * np.abs(self._log_h - _log_h(wound)) + np.abs(self._lie - build_law_row(wound)).sum(axis=1) / 4
        )
        far = far + OTHER_MIX * (self._mix != wound.mix) + OTHER_KIND * (self._beads != wound.beads)
        order = np.argsort(far, kind="stable")[:most]
        return [(self.keys[index], float(far[index])) for index in order]


def _log_h(wound: WindingModel) -> float:
    return float(np.log(wound.l0_h / wound.lines))
