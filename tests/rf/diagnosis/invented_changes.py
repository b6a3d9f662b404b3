"""Invented devices with known changes, and the analysers and jigs that show them: for tests of the diagnosis.

The formulas are written here and not taken from the code under test. The makers' tables are the same
(published); every mix departs from its table, the capacitance and its hand from any law, and jigs have
clips, leads and a stray to ground, which the code under test does not model.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from measurements.rf.evidence_grid import GRID_HZ
from tests.rf.mix_tables import MIXES, mu

SIZES_MM = ((61, 35.55, 12.7), (35.55, 23, 12.7), (51, 32, 19))
KINDS = ("turns", "mix", "crack", "stray", "leak", "jig", "other")
INSIDE = GRID_HZ <= 30e6


@dataclass
class Invented:
    """A design with its true usual device; `device` builds one and sweeps it on a bench of its own."""

    seed: int
    mixes: tuple[str, ...] = ("31", "43", "61", "77")
    core: float = 0.07
    hand: float = 0.15
    rng: np.random.Generator = field(init=False)

    def __post_init__(self) -> None:
        self.rng = rng = np.random.default_rng(self.seed)
        self.mix = str(rng.choice(self.mixes))
        self.turns = int(rng.integers(6, 16))
        self.size = SIZES_MM[rng.integers(len(SIZES_MM))]
        self.stray_f = float(np.exp(rng.normal(np.log(2.5e-12), 0.35)))
        self.off = {mix: rng.normal(size=3) for mix in MIXES}
        self.level = float(np.exp(0.05 * rng.normal()))

    def true_mu(self, mix: str) -> np.ndarray:
        """The maker's table, off by some percent, alike over about two octaves."""
        of_level, slope, phase = self.off[mix]
        wave = 0.03 * slope * np.sin(np.log(GRID_HZ / 7e6)) + 0.02j * phase * np.cos(np.log(GRID_HZ / 7e6))
        return mu(mix, GRID_HZ) * np.exp(0.05 * of_level + wave)

    def device_ohm(
        self,
        *,
        turns: int | None = None,
        mix: str | None = None,
        gap: float = 0.0,
        extra_f: float = 0.0,
        leak_s: float = 0.0,
        clips_f: float | None = None,
        bend: np.ndarray | None = None,
    ) -> np.ndarray:
        """Zcm (G,) as swept, NaN above 30 MHz; gap: over path length; clips_f: across the jig."""
        rng = self.rng
        outer, inner, height = self.size
        made = self.turns if turns is None else turns
        core, hand = np.clip(rng.normal(size=2), -2.5, 2.5)
        mu_e = self.true_mu(mix or self.mix) * self.level * np.exp(self.core * core)
        mu_e = 1 / (1 / mu_e + gap)
        l0_h = 2e-7 * height * 1e-3 * np.log(outer / inner) * made**2
        omega = 2 * np.pi * GRID_HZ
        stray_f = self.stray_f * np.exp(self.hand * hand) * (made / self.turns) ** 0.5 + extra_f
        if bend is not None:
            mu_e = mu_e * bend
        one_s = 1 / (1j * omega * l0_h * mu_e) + 1j * omega * stray_f + leak_s
        return self.swept_ohm(1 / one_s, clips_f)

    def swept_ohm(self, z_ohm: np.ndarray, clips_f: float | None = None) -> np.ndarray:
        """Through a jig: clips across it, leads in series, 0 to 2 pF to ground at each end, noise 0.0004."""
        rng, omega = self.rng, 2 * np.pi * GRID_HZ
        across_f = rng.uniform(0, 0.15e-12) if clips_f is None else clips_f
        z_ohm = 1 / (1 / z_ohm + 1j * omega * across_f) + 1j * omega * rng.uniform(0, 30e-9)
        ground = 1j * omega * rng.uniform(0, 2e-12) * 50
        s21 = 2 / (2 * (1 + ground) + (z_ohm / 50) * (1 + ground) ** 2)
        s21 = s21 + 4e-4 * (rng.normal(size=s21.size) + 1j * rng.normal(size=s21.size)) / np.sqrt(2)
        return np.where(INSIDE, 100 * (1 - s21) / s21, complex(np.nan, np.nan))

    def change(self, kind: str) -> tuple[dict, str]:
        """Settings of one change of a kind, drawn; and in words (mixes with their name, turns with count)."""
        rng = self.rng
        if kind == "turns":
            off = int(rng.choice([-6, -5, -4, -3, -2, -1, 1, 2, 3, 4]))
            turns = max(self.turns + off, 2)
            return {"turns": turns}, str(turns)
        if kind == "mix":
            other = str(rng.choice([mix for mix in self.mixes if mix != self.mix]))
            return {"mix": other}, other
        if kind == "crack":
            gap = float(np.exp(rng.uniform(np.log(0.05), np.log(1.0)))) / 145
            return {"gap": gap}, f"{gap:.1e}"
        if kind == "stray":
            extra = float(rng.uniform(2e-12, 12e-12))
            return {"extra_f": extra}, f"{extra:.1e}"
        if kind == "leak":
            leak = float(np.exp(rng.uniform(np.log(4e-5), np.log(6e-4))))
            return {"leak_s": leak}, f"{leak:.1e}"
        if kind == "jig":
            clips = float(rng.uniform(2e-12, 8e-12))
            return {"clips_f": clips}, f"{clips:.1e}"
        position = np.log(GRID_HZ / 1e6)
        bend = np.exp(rng.uniform(0.4, 0.9) * np.sin(rng.uniform(2, 5) * position + rng.uniform(0, 6)))
        return {"bend": bend}, "no change of ours"
