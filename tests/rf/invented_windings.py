"""An invented group that winds many designs, with a known truth: for tests of what is learned from it.

The formulas are written here and not taken from the code under test. Every mix departs from its maker's
table, the capacitance follows a law of another form than the one that is fitted, and every design and device
has its own share.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from measurements.rf.bands import Band
from measurements.rf.evidence_grid import GRID_HZ
from measurements.rf.ferrites.design_evidence import DesignEvidence
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.leave_one_out import WorstInBand
from measurements.rf.ferrites.winding_model import WindingModel, build_stacked_winding
from tests.rf.invented_group import rejection_db
from tests.rf.mix_tables import MIXES, columns, mu

TABLES = {mix: Permeability(*columns(mix)) for mix in MIXES}
SIZES_MM = ((61, 35.55, 12.7), (35.55, 23, 12.7), (29, 19, 7.5), (51, 32, 19))
FREQ_HZ = GRID_HZ[GRID_HZ <= 30e6][::3]
BANDS = tuple(
    Band(name, low * 1e6, high * 1e6)
    for name, low, high in (
        ("160m", 1.8, 2.0), ("80m", 3.5, 4.0), ("40m", 7.0, 7.3), ("20m", 14.0, 14.35), ("10m", 28.0, 29.7)
    )
)  # fmt: skip
STYLES = {"coax": 1.0, "bifilar": 1.5, "single": 0.8}
NOISE = 0.0003


@dataclass
class Group:
    """Winds designs and devices. Spreads are standard deviations of natural logarithms."""

    seed: int
    mixes: tuple[str, ...] = tuple(MIXES)
    core: float = 0.08
    hand: float = 0.15
    design_core: float = 0.04
    design_hand: float = 0.12
    rng: np.random.Generator = field(init=False)

    def __post_init__(self) -> None:
        self.rng = np.random.default_rng(self.seed)
        self.off = {mix: self.rng.normal(size=3) for mix in self.mixes}

    def true_mu(self, mix: str, freq_hz: np.ndarray) -> np.ndarray:
        level, slope, phase = self.off[mix]
        turned = 0.05 * slope * np.sin(np.log(freq_hz / 7e6)) + 0.04j * phase * np.cos(np.log(freq_hz / 7e6))
        return mu(mix, freq_hz) * np.exp(0.1 * level + turned)

    @staticmethod
    def true_stray_f(wound: WindingModel) -> float:
        """A floor and a part that grows with turns: no power law."""
        own = STYLES.get(wound.style, 1.0) * (1e-12 + 0.12e-12 * wound.turns * np.sqrt(wound.wire_mm or 2.0))
        return float(own * (0.75 if wound.split else 1.0))

    def winding(self) -> WindingModel:
        return build_stacked_winding(
            SIZES_MM[self.rng.integers(len(SIZES_MM))],
            int(self.rng.integers(1, 3)),
            mix=str(self.rng.choice(self.mixes)),
            style=str(self.rng.choice(list(STYLES))),
            turns=int(self.rng.integers(5, 18)),
            wire_mm=float(self.rng.choice([1.3, 2.6, 4.95])),
        )

    def devices_ohm(self, wound: WindingModel, freq_hz: np.ndarray, count: int) -> np.ndarray:
        """(count, F) as an analyser shows them."""
        of_design = self.rng.normal(size=2) * (self.design_core, self.design_hand)
        curves = []
        for _ in range(count):
            core, hand = of_design + self.rng.normal(size=2) * (self.core, self.hand)
            l0_h = 4e-7 * np.pi * wound.turns**2 * wound.factor_m
            one_s = 1 / (2j * np.pi * freq_hz * l0_h * self.true_mu(wound.mix, freq_hz) * np.exp(core))
            one_s = one_s + 2j * np.pi * freq_hz * self.true_stray_f(wound) * np.exp(hand)
            s21 = 100 / (1 / (one_s * wound.lines) + 100)
            s21 = s21 + NOISE * (self.rng.normal(size=s21.size) + 1j * self.rng.normal(size=s21.size))
            curves.append(100 * (1 - s21) / s21)
        return np.array(curves)

    def design(self, key: str, wound: WindingModel | None = None, count: int | None = None):
        """The evidence of one design, and its devices' worst rejection on `BANDS` (n, B)."""
        wound = wound or self.winding()
        count = count or int(self.rng.integers(4, 12))
        edges = np.array([edge for band in BANDS for edge in (band.start_hz, band.stop_hz)])
        both = self.devices_ohm(wound, np.concatenate([FREQ_HZ, edges]), count)
        curves, at_edges = both[:, : FREQ_HZ.size], both[:, FREQ_HZ.size :]
        median = np.median(curves.real, axis=0) + 1j * np.median(curves.imag, axis=0)
        seen = DesignEvidence(key, wound, count, FREQ_HZ, z_ohm=median, curves_ohm=curves)
        worst = rejection_db(at_edges).reshape(count, -1, 2).min(axis=2)
        return seen, WorstInBand(worst, single=True)

    def designs(self, count: int):
        """Evidence and worst figures of so many designs."""
        made = [self.design(f"design-{index}") for index in range(count)]
        return [seen for seen, _ in made], {seen.key: worst for seen, worst in made}


def public_view(seen: list[DesignEvidence], worst: dict[str, WorstInBand]):
    """The same designs as the public sees them: medians of rejection in steps of 0.5 dB, nothing of
    devices.
    """
    coarse = [
        DesignEvidence(
            each.key, each.wound, 5, each.freq_hz, rejection_db=np.round(2 * rejection_db(each.z_ohm)) / 2
        )
        for each in seen
    ]
    medians = {
        key: WorstInBand(np.round(2 * np.median(one.worst_db, axis=0, keepdims=True)) / 2, single=False)
        for key, one in worst.items()
    }
    return coarse, medians
