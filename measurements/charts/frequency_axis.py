"""The frequency axis that the layers of a panel share: its span, and logarithmic or linear."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

Scale = Literal["log", "linear"]
SCALES: tuple[Scale, ...] = ("log", "linear")
LOG_TICKS_MHZ = (1, 2, 3, 5, 7, 10, 14, 20, 30, 50, 100, 200, 500)
GRID_SPAN_MHZ = (1.0, 54.0)


@dataclass(frozen=True)
class FrequencyAxis:
    """From `low_mhz` to `high_mhz`, both of them positive."""

    low_mhz: float = GRID_SPAN_MHZ[0]
    high_mhz: float = GRID_SPAN_MHZ[1]
    scale: Scale = "log"

    def encoding(self) -> dict[str, Any]:
        """The encoding of x in every layer; the field is `f`, in MHz."""
        axis: dict[str, Any] = {"format": "~g", "grid": False}
        if self.scale == "log":
            # a logarithmic axis by itself names 1, 10, 100; the trade thinks in these
            axis["values"] = [tick for tick in LOG_TICKS_MHZ if self.low_mhz <= tick <= self.high_mhz]
        return {
            "field": "f",
            "type": "quantitative",
            "title": "Frequency, MHz",
            "scale": {"type": self.scale, "domain": [self.low_mhz, self.high_mhz], "nice": False},
            "axis": axis,
        }
