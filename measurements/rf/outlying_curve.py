"""A curve that leaves its design's range, and the simple figures its causes rest on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from . import choke_figures
from .design_range import DesignRange
from .sweep import Bools, Complexes

LOW_HZ = 3e6  # below it a winding on any usual mix is far from its resonance


@dataclass(frozen=True)
class Made:
    """What the recipe says. beads: the count is of cores on one pass, and Z grows with it, not its square."""

    count: int
    mix: str
    beads: bool = False

    def as_if(self, impedance_ratio: float) -> float:
        """The count that would show `impedance_ratio` of the recipe's impedance."""
        return self.count * (impedance_ratio if self.beads else math.sqrt(impedance_ratio))

    @property
    def noun(self) -> str:
        return "cores" if self.beads else "turns"


@dataclass(frozen=True)
class Seen:
    """A curve that leaves its design's range at `left`; all (F,). jig_swept: an open jig was sent."""

    design: DesignRange
    own_ohm: Complexes
    judged: Bools
    left: Bools
    jig_swept: bool

    @property
    def from_hz(self) -> float:
        return float(self.design.freq_hz[self.left][0])

    @property
    def to_hz(self) -> float:
        return float(self.design.freq_hz[self.left][-1])

    @property
    def resonances_hz(self) -> tuple[float, float]:
        """Self-resonance of the own curve and of the median, NaN for none."""
        freq_hz = self.design.freq_hz[self.judged]
        both = (self.own_ohm[self.judged], self.design.z_ohm[self.judged])
        own, median = (float(choke_figures.self_resonance_hz(freq_hz, z_ohm)) for z_ohm in both)
        return own, median

    @property
    def low(self) -> tuple[float, float] | None:
        """Up to which frequency the curve is low-frequency, and |Z| there, own to median."""
        used = self._low_points
        if np.count_nonzero(used) < 3:
            return None
        ratio = np.median(np.abs(self.own_ohm[used] / self.design.z_ohm[used]))
        return self._low_limit_hz, float(ratio)

    @property
    def low_outside(self) -> bool:
        """Whether low-frequency |Z| itself lies outside the 10-90 band; true where there is none to see."""
        used = self._low_points
        own_ohm = np.abs(self.own_ohm[used])
        outside = (own_ohm < self.design.low_ohm[used]) | (own_ohm > self.design.high_ohm[used])
        return bool(np.count_nonzero(used) < 3 or outside.mean() > 0.5)

    @property
    def _low_limit_hz(self) -> float:
        resonances = [each for each in self.resonances_hz if not math.isnan(each)]
        return float(min([LOW_HZ, *(each / 2 for each in resonances)]))

    @property
    def _low_points(self) -> Bools:
        return self.judged & (self.design.freq_hz <= self._low_limit_hz)
