"""Benches whose truth is known, to count how often a control chart is wrong. Written apart from the charts.

A session moves all bands together (calibration, drift, leads) and each band by itself (clips, noise).
"""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Bench:
    """spread_db: standard deviation from session to session. together: share of it that all bands have."""

    spread_db: float = 0.3
    together: float = 0.5
    bands: int = 10
    heavy_tails: bool = False

    def draw_sessions(self, rng, sessions):
        """Draw rejection in dB: a row for each session. A band has a level, and a spread near the bench's."""
        levels = rng.uniform(20, 32, self.bands)
        spreads = self.spread_db * rng.uniform(0.7, 1.3, self.bands)
        shared = self._draw(rng, (sessions, 1)) * np.sqrt(self.together)
        alone = self._draw(rng, (sessions, self.bands)) * np.sqrt(1 - self.together)
        return levels + spreads * (shared + alone)

    def _draw(self, rng, size):
        if self.heavy_tails:
            return rng.standard_t(4, size) / np.sqrt(2)  # variance 2 at four degrees of freedom
        return rng.normal(size=size)
