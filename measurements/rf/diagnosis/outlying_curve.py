"""A curve that leaves its design's range, and the simple figures its causes rest on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from measurements.rf.kinds import choke_figures
from measurements.rf.sweeps.sweep import Bools, Complexes, Floats

# The curves of a design's devices as a range over frequency, and where one device's own curve leaves it.

# How far beyond the 10-90 band a curve must lie to be called outside, in widths of the band. The second
# part, over n - 1, is for small groups, whose 10-90 band is narrower than the truth. House default: it
# leaves about one false alarm in twenty-five devices (`tests/rf/diagnosis/test_curve_difference.py`
# counts them).
BEYOND, SMALL = 0.3, 4.0

LEAST_BEYOND = np.log(1.03)  # what two sweeps of one device differ by on a usual bench

LEAST_RUN = np.log(2) / 3  # outside over a third of an octave unbroken: single points are noise

FEWEST_DEVICES = 5  # as for a tolerance bound: fewer have no 10th and 90th percentile to speak of


@dataclass(frozen=True)
class DesignRange:
    """Published statistics of a design's curves on `freq_hz` (F,), each (F,), NaN where not published.

    resistance_ohm, reactance_ohm: medians. low_ohm, high_ohm: the 10th and 90th percentile of |Zcm|.
    devices: how many curves stand behind it.
    """

    freq_hz: Floats
    resistance_ohm: Floats
    reactance_ohm: Floats
    low_ohm: Floats
    high_ohm: Floats
    devices: int

    @property
    def z_ohm(self) -> Complexes:
        """Return the median curve (F,)."""
        return self.resistance_ohm + 1j * self.reactance_ohm

    @property
    def known(self) -> Bools:
        """Mark the frequencies that have a median that is an impedance, and a range."""
        there = np.isfinite(self.z_ohm) & (self.low_ohm > 0) & (self.high_ohm >= self.low_ohm)
        return np.asarray(there & (np.abs(np.where(there, self.z_ohm, 0)) > 0))

    @property
    def allowance(self) -> Floats:
        """Return the tolerance beyond the ends of the range, natural logarithm of a ratio (F,)."""
        with np.errstate(invalid="ignore"):
            width = np.log(self.high_ohm / self.low_ohm)
        allowed: Floats = np.maximum((BEYOND + SMALL / (self.devices - 1)) * width, LEAST_BEYOND)
        return allowed

    def outside(self, own_ohm: Floats, judged: Bools) -> Floats:
        """Return 0 inside the range and its allowance, +1 above, -1 below; (F,), 0 where not `judged`."""
        size = np.log(np.where(judged, own_ohm, 1.0))
        low = np.log(np.where(judged, self.low_ohm, 1.0)) - self.allowance
        high = np.log(np.where(judged, self.high_ohm, 1.0)) + self.allowance
        side = np.where(size > high, 1.0, np.where(size < low, -1.0, 0.0))
        return np.where(judged, side, 0.0)

    def leaves(self, own_ohm: Floats, judged: Bools) -> Bools:
        """Return the points (F,) of every unbroken stretch of a third of an octave or more outside the
        range.
        """
        side = self.outside(own_ohm, judged)
        left: Bools = np.zeros(side.size, dtype=np.bool_)
        for sign in (-1.0, 1.0):
            edges = np.diff(np.concatenate([[0], (side == sign).astype(np.int8), [0]]))
            for first, after in zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True):
                if np.log(self.freq_hz[after - 1] / self.freq_hz[first]) >= LEAST_RUN:
                    left[first:after] = True
        return left


LOW_HZ = 3e6  # below it a winding on any usual mix is far from its resonance


@dataclass(frozen=True)
class RecipeFacts:
    """What the recipe says. beads: the count is of cores on one pass, and Z grows with it, not its square."""

    count: int
    mix: str
    beads: bool = False

    def as_if(self, impedance_ratio: float) -> float:
        """Return the count that would show `impedance_ratio` of the recipe's impedance."""
        return self.count * (impedance_ratio if self.beads else math.sqrt(impedance_ratio))

    @property
    def noun(self) -> str:
        return "cores" if self.beads else "turns"


@dataclass(frozen=True)
class OutlyingCurve:
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
        """Return self-resonance of the own curve and of the median, NaN for none."""
        freq_hz = self.design.freq_hz[self.judged]
        both = (self.own_ohm[self.judged], self.design.z_ohm[self.judged])
        own, median = (float(choke_figures.self_resonance_hz(freq_hz, z_ohm)) for z_ohm in both)
        return own, median

    @property
    def low(self) -> tuple[float, float] | None:
        """Return up to which frequency the curve is low-frequency, and |Z| there, own to median."""
        used = self._low_points
        if np.count_nonzero(used) < 3:
            return None
        ratio = np.median(np.abs(self.own_ohm[used] / self.design.z_ohm[used]))
        return self._low_limit_hz, float(ratio)

    @property
    def low_outside(self) -> bool:
        """Say whether low-frequency |Z| itself lies outside the 10-90 band; true where there is none to
        see.
        """
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
