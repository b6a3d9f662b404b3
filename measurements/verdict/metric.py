"""The figures that a design can be judged by: their unit of spread and which way is better."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray


@dataclass(frozen=True)
class Metric:
    """unit: what one unit of the model of builds is (`chance_grid`). higher_is_better: rejection alone.

    The model was simulated for rejection: spreads of some decibels, bad builds 15 dB lower. Losses and SWR
    spread about a tenth of that, so one unit is 0.1 there (house default).
    """

    name: str
    unit: float
    higher_is_better: bool

    def convert_to_units(self, figures: ArrayLike) -> NDArray[np.float64]:
        """Turn figures into units so that larger is better; any shape, NaN stays NaN."""
        sign = 1.0 if self.higher_is_better else -1.0
        return np.asarray(figures, dtype=np.float64) * (sign / self.unit)

    def mark_passing(self, figures: ArrayLike, limit: float) -> NDArray[np.bool_]:
        """Tell whether each figure is within the limit; NaN is not."""
        values = np.asarray(figures, dtype=np.float64)
        return values >= limit if self.higher_is_better else values <= limit


REJECTION = Metric("rejection_db", 1.0, higher_is_better=True)
LOSS = Metric("loss_db", 0.1, higher_is_better=False)
SWR = Metric("swr", 0.1, higher_is_better=False)
