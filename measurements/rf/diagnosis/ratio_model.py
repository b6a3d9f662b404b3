"""What a ratio device of a recipe should show, as a function of unknowns with unit-normal priors.

A voltage device alone: an autotransformer or transformer on one core. The unknowns are those of its
prediction
(`rf.ferrites.ratio_windings`): permeability at knots, leakage, capacitances, copper, and where the leakage
lies. A
hypothesis may add one unknown more, the size of its change.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from scipy import special

from measurements.rf.ferrites import ratio_circuit
from measurements.rf.ferrites.ratio_circuit import TransformerParts
from measurements.rf.ferrites.ratio_windings import PRIORS, RatioWinding
from measurements.rf.sweeps.sweep import Complexes, Floats

KNOTS = 5  # of ln mu over the sweep, real part and phase each
LEVEL_SPREAD = math.sqrt(0.10**2 + 0.05**2 + 0.08**2)  # of a core: table, design and device together
SHAPE_SPREAD, PHASE_SPREAD, SHAPE_OCTAVES = 0.09, 0.09, 1.5
FAR_F_SPREAD, OTHERS = 0.75, 6
UNKNOWNS = 1 + 2 * KNOTS + OTHERS  # and one more, the size of a change
FIRST_OTHER = 1 + 2 * KNOTS


@dataclass(frozen=True)
class RatioSweep:
    """A device's sweep (F,) into `load_ohm` at its far side. loss_db: into the nominal load, None if not
    measured.
    """

    freq_hz: Floats
    s11: Complexes
    load_ohm: float
    loss_db: Floats | None = None


@dataclass(frozen=True)
class RatioChange:
    """What differs from the recipe. The factors and counts are fixed; `size` names the unknown that is
    fitted.

    size: its kind (`far_f`, `leakage`, `series_ohm`, `shunt_s`, `gap`, `load`), "" for none; middle and
    spread of
    its natural logarithm.
    """

    near_turns: int | None = None
    far_turns: int | None = None
    stacked: int | None = None
    mix: str | None = None
    size: str = ""
    middle: float = 0.0
    spread: float = 1.0


class RatioModel:
    """Computes S11 and loss of a recipe with a change, for rows of unknowns (S, UNKNOWNS + 1)."""

    def __init__(
        self, wound: RatioWinding, change: RatioChange, mu: Mapping[str, Complexes], sweep: RatioSweep
    ) -> None:
        self.change, self.sweep = change, sweep
        self.near = change.near_turns or wound.near_turns
        self.far = change.far_turns or wound.far_turns
        stacked = change.stacked or wound.stacked
        self.factor_m = wound.factor_m * stacked / wound.stacked
        turn_m = replace(wound, stacked=stacked).turn_m  # another stack has turns of another length
        self.log_mu = np.log(mu[change.mix or wound.mix])
        self.wound, self.nominal_ohm = wound, 50.0 * float(wound.ratio)
        self.roots = _build_knot_roots(sweep.freq_hz)
        step = self.far / self.near
        copper_ohm = ratio_circuit.build_copper_ohm(sweep.freq_hz, self.near * turn_m, wound.copper_mm)
        self.copper_ohm = PRIORS.proximity.middle * copper_ohm * (1 + (step - 1) / step**2)
        self.leakage_h = PRIORS.leakage_share.middle * ratio_circuit.MU0_H_PER_M * turn_m * self.near**2
        if wound.filar:
            self.leakage_h *= 0.3  # wires side by side: about a line's share (own estimate)
        self.far_f = 1.6e-12 * math.sqrt(self.far / 14)  # of windings and leads together, at their middles

    def compute(self, unknowns: Floats) -> tuple[Complexes, Floats]:
        """Compute S11 (S, F) into the swept load, and loss (S, F) into the nominal one."""
        freq_hz, size = self.sweep.freq_hz, np.exp(self.change.middle + self.change.spread * unknowns[:, -1:])
        others = unknowns[:, FIRST_OTHER : FIRST_OTHER + OTHERS]
        parts = TransformerParts(
            magnetising_ohm=self._magnetise(unknowns, size),
            turns_ratio=self.far / self.near,
            leakage_h=self.leakage_h
            * np.exp(PRIORS.leakage_share.spread * others[:, :1])
            * self._pick("leakage", size, 1.0),
            copper_ohm=self.copper_ohm * np.exp(PRIORS.proximity.spread * others[:, 1:2])
            + self._pick("series_ohm", size, 0.0),
            near_share=special.ndtr(others[:, 2:3]),
            near_f=self.wound.compensation_f * np.exp(0.05 * others[:, 5:6])
            + PRIORS.near_lead_f.middle * np.exp(PRIORS.near_lead_f.spread * others[:, 3:4]),
            far_f=self.far_f * np.exp(FAR_F_SPREAD * others[:, 4:5]) + self._pick("far_f", size, 0.0),
        )
        abcd = ratio_circuit.build_transformer_abcd(freq_hz, parts)
        ratio, load_ohm = float(self.wound.ratio), self.sweep.load_ohm
        scale = self._pick("load", size, 1.0)
        s11 = _reflect(abcd, load_ohm * scale)
        loss_db = ratio_circuit.compute_loaded_figures(abcd, ratio).loss_db
        return s11, loss_db

    def _magnetise(self, unknowns: Floats, size: Floats) -> Complexes:
        level = LEVEL_SPREAD * unknowns[:, :1]
        real, phase = unknowns[:, 1 : 1 + KNOTS], unknowns[:, 1 + KNOTS : 1 + 2 * KNOTS]
        shape = SHAPE_SPREAD * (real @ self.roots) + 1j * PHASE_SPREAD * (phase @ self.roots)
        log_mu = np.asarray(self.log_mu + level + shape, dtype=np.complex128)
        per_mu = 2j * np.pi * self.sweep.freq_hz * ratio_circuit.MU0_H_PER_M * self.near**2 * self.factor_m
        inverse = np.exp(-log_mu) + self._pick("gap", size, 0.0)  # 1/mu_e = 1/mu + gap (textbook)
        total_s = inverse / per_mu + self._pick("shunt_s", size, 0.0)
        return np.asarray(1 / total_s, dtype=np.complex128)

    def _pick(self, name: str, size: Floats, usual: float) -> Floats | float:
        return size if self.change.size == name else usual


def _reflect(abcd: Complexes, load_ohm: Floats | float) -> Complexes:
    by_voltage = abcd[..., 0, 0] * load_ohm + abcd[..., 0, 1]
    by_current = 50.0 * (abcd[..., 1, 0] * load_ohm + abcd[..., 1, 1])
    found: Complexes = (by_voltage - by_current) / (by_voltage + by_current)
    return found


def _build_knot_roots(freq_hz: Floats) -> Floats:
    """Build (K, F): unit-normal values at knots become a curve that changes over about an octave and a
    half.
    """
    octaves = np.log2(freq_hz)
    knots = np.linspace(octaves[0], octaves[-1], KNOTS)
    near = np.exp(-np.abs(knots[:, None] - knots[None, :]) / SHAPE_OCTAVES)
    hats = np.array([np.interp(octaves, knots, row) for row in np.eye(KNOTS)])
    found: Floats = np.linalg.cholesky(near).T @ hats
    return found
