"""Transformers simulated in scikit-rf, independent of the code under test.

A device is leakage in series, magnetising inductance with loss across, leakage, ideal transformer, and
winding capacitance; open, short, loads, resistors, joints and renormalisation are all scikit-rf's. What a
bench would read is this plus complex Gaussian noise on every S-parameter. The truth is the noiseless device
between 50 ohm and ratio x 50.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache

import numpy as np
import skrf

from measurements.rf.bands import Band
from measurements.rf.sweeps.sweep import Sweep

FREQUENCY = skrf.Frequency(1, 30, 401, unit="MHz")
MEDIUM = skrf.media.DefinedGammaZ0(frequency=FREQUENCY, z0=50.0)
FREQ_HZ = np.asarray(FREQUENCY.f)
NOISE = 0.002  # standard deviation of a complex S-parameter, E|n|^2 = NOISE^2

# region 2 (47 CFR 97.301), those within 1 to 30 MHz
BANDS = tuple(
    Band(name, start * 1e6, stop * 1e6)
    for name, start, stop in (
        ("160m", 1.8, 2.0), ("80m", 3.5, 4.0), ("40m", 7.0, 7.3), ("30m", 10.1, 10.15), ("20m", 14.0, 14.35),
        ("17m", 18.068, 18.168), ("15m", 21.0, 21.45), ("12m", 24.89, 24.99), ("10m", 28.0, 29.7),
    )
)  # fmt: skip


@dataclass(frozen=True)
class Design:
    """magnetising_h with loss_ohm across it; leakage_h and copper_ohm in series, `near` of it on the 50-ohm
    side.

    capacitance_f across the winding of that side; `far` of it (ratio taken out) on the high side.
    All values are as seen from the 50-ohm side.
    """

    ratio: int
    magnetising_h: float
    loss_ohm: float
    leakage_h: float
    capacitance_f: float
    copper_ohm: float
    near: float = 0.5
    far: float = 0.5


# Values as of windings on ferrite toroids, by judgement (no source): a 49:1 has few turns on its 50-ohm side
# (little magnetising inductance) and much capacitance when seen from there.
GOOD = {
    4: Design(4, 15e-6, 3000.0, 60e-9, 20e-12, 0.1),
    9: Design(9, 12e-6, 3000.0, 80e-9, 30e-12, 0.1),
    49: Design(49, 8e-6, 2500.0, 80e-9, 60e-12, 0.1),
}
POOR = {
    4: Design(4, 4e-6, 700.0, 300e-9, 60e-12, 0.4),
    9: Design(9, 4e-6, 600.0, 250e-9, 90e-12, 0.4),
    49: Design(49, 2.5e-6, 400.0, 200e-9, 150e-12, 0.4),
}
UNEVEN = ((0.5, 0.5), (0.0, 0.5), (1.0, 0.5), (1.0, 1.0))  # near, far: alike, then one-sided


def good(ratio: int, **changes: float) -> Design:
    return replace(GOOD[ratio], **changes)


def poor(ratio: int, **changes: float) -> Design:
    return replace(POOR[ratio], **changes)


@cache
def device(design: Design) -> skrf.Network:
    """Port 1 the 50-ohm side; both ports referred to 50 ohm."""
    near, far = design.near, design.far
    magnetising = MEDIUM.shunt_inductor(design.magnetising_h) ** MEDIUM.shunt(
        MEDIUM.resistor(design.loss_ohm) ** MEDIUM.short()
    )
    network = (
        _series(design, near, 1.0)
        ** magnetising
        ** _transformer(design.ratio)
        ** _series(design, 1 - near, design.ratio)
    )
    if design.capacitance_f:
        across_near = MEDIUM.shunt_capacitor(design.capacitance_f * (1 - far))
        across_far = MEDIUM.shunt_capacitor(design.capacitance_f * far / design.ratio)
        network = across_near**network**across_far
    return network


def _series(design: Design, share: float, ratio: float) -> skrf.Network:
    return MEDIUM.inductor(design.leakage_h * share * ratio) ** MEDIUM.resistor(
        design.copper_ohm * share * ratio
    )


def _transformer(ratio: float) -> skrf.Network:
    turns = np.sqrt(ratio)
    abcd = np.tile(np.diag([1 / turns, turns]).astype(complex), (len(FREQ_HZ), 1, 1))
    return skrf.Network(
        frequency=FREQUENCY, s=skrf.network.a2s(abcd, np.full((len(FREQ_HZ), 2), 50 + 0j)), z0=50
    )


def true_loss_db(design: Design) -> np.ndarray:
    """(F,) loss of the noiseless device between 50 ohm and ratio x 50 ohm."""
    into_nominal = device(design).copy()
    into_nominal.renormalize([50, 50 * design.ratio])
    return -into_nominal.s_db[:, 1, 0]


def ended(design: Design, end: float | str) -> skrf.Network:
    """The device's input with its far side in "open", "short" or so many ohm."""
    ends = {"open": MEDIUM.open(), "short": MEDIUM.short()}
    return device(design) ** (ends[end] if isinstance(end, str) else MEDIUM.resistor(end) ** MEDIUM.short())


def pair(one: Design, other: Design) -> skrf.Network:
    return device(one) ** device(other).flipped()


def swept(
    network: skrf.Network,
    rng: np.random.Generator | None = None,
    unmeasured: tuple[tuple[int, int], ...] = (),
    noise: float = NOISE,
) -> Sweep:
    """What the bench reads: the network plus noise where a generator is given."""
    s = np.array(network.s)
    if rng is not None:
        s = s + noise * (rng.standard_normal(s.shape) + 1j * rng.standard_normal(s.shape)) / np.sqrt(2)
    sweep = Sweep(FREQ_HZ, s, np.full(s.shape[1], 50.0), np.ones(s.shape[1:], bool))
    for i, j in unmeasured:
        sweep = sweep.without(i, j)
    return sweep


ONE_WAY = ((0, 1), (1, 1))  # what a one-direction analyser leaves out


def worst_in_bands(loss_db: np.ndarray, freq_hz: np.ndarray = FREQ_HZ) -> np.ndarray:
    """(B,) the largest loss in each band, edges interpolated."""
    worst = []
    for band in BANDS:
        inside = freq_hz[(freq_hz > band.start_hz) & (freq_hz < band.stop_hz)]
        at_hz = np.concatenate([[band.start_hz], inside, [band.stop_hz]])
        worst.append(np.interp(at_hz, freq_hz, loss_db).max())
    return np.array(worst)


def ratio_of(design: Design) -> Fraction:
    return Fraction(design.ratio)
