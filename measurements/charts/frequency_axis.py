"""The frequency axis that the layers of a panel share: its span, and logarithmic or linear."""

from __future__ import annotations

from dataclasses import dataclass
from math import log
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

    def place(self, f_mhz: float) -> float:
        """How far from the left this frequency lies, 0 to 1 within the span."""
        at = (log(each) if self.scale == "log" else each for each in (self.low_mhz, f_mhz, self.high_mhz))
        low, here, high = at
        return (here - low) / (high - low)

    def at(self, place: float) -> float:
        """The frequency that lies there, MHz: the reverse of `place`."""
        if self.scale == "log":
            return float(self.low_mhz * (self.high_mhz / self.low_mhz) ** place)
        return self.low_mhz + place * (self.high_mhz - self.low_mhz)

    def encoding(self) -> dict[str, Any]:
        """The encoding of x in every layer; the field is `f`, in MHz."""
        # on a linear axis ~g would write 10 as 1e+1, because it keeps as many digits as the step has
        axis: dict[str, Any] = {"format": "~g" if self.scale == "log" else "~f", "grid": False}
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
