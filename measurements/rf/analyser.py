"""An analyser as its owner describes it: paths, residual errors after calibration, drift and noise.

A two-path analyser drives both ports and corrects the match of both. A one-path analyser (S12 and S22 not
measured) leaves the match of its port 2 as it is: 0.1 (20 dB) unless somebody shows otherwise. The residual
errors of port 1 stay 0.01 (40 dB) after a calibration at the clips. Sizes are radii of complex discs.
Source: terms of EURAMET cg-12, Guidelines on the Evaluation of Vector Network Analysers; the numbers are
house defaults (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from math import isfinite
from typing import Any, Literal

from measurements.errors import ErrorCollector
from measurements.rf.sweeps.sweep import Sweep

CONNECTION = 0.002  # house default: what clipping on once more changes, relative
UNCORRECTED_MATCH = 0.1  # 20 dB: port 2 of a one-path analyser of which nobody knows more

# field of a description: least and largest value, and its unit
_RANGES: dict[str, tuple[float, float, str]] = {
    "reflection_residual": (0.0001, 0.3, ""),
    "port2_match_db": (3.0, 80.0, " dB"),
    "drift_db": (0.0, 3.0, " dB"),
    "noise": (0.0, 0.1, ""),
    "resistor_percent": (0.0, 20.0, " %"),
}


@dataclass(frozen=True)
class Analyser:
    """The instrument's share of an uncertainty; the defaults are those of an undescribed analyser.

    paths: 1 drives port 1 alone, 2 drives both; None where nobody said, and the sweep decides.
    reflection_residual: radius of residual directivity, source match and tracking, linear.
    port2_match_db: return loss of port 2 as the device sees it; None for the default of `paths`.
    drift_db: largest change since the calibration. noise: rms of one S-parameter, linear.
    resistor_percent: tolerance of the resistors used; None where nobody said.
    """

    paths: Literal[1, 2] | None = None
    reflection_residual: float = 0.01
    port2_match_db: float | None = None
    drift_db: float = 0.1
    noise: float = 0.002
    resistor_percent: float | None = None

    @property
    def drift(self) -> float:
        """Return largest relative change of an S-parameter since the calibration."""
        return float(10.0 ** (self.drift_db / 20.0)) - 1.0

    def get_paths(self, sweep: Sweep) -> int:
        """Return 1 or 2: as described, or as the sweep shows (a device turned round makes no second path)."""
        if self.paths is not None:
            return self.paths
        both = sweep.ports >= 2 and bool(sweep.measured.all())
        return 2 if both and sweep.source != "turned" else 1

    def get_port2_match(self, sweep: Sweep) -> float:
        """Return radius of the match of port 2 that a sweep leaves uncorrected, linear."""
        if self.port2_match_db is not None:
            return float(10.0 ** (-self.port2_match_db / 20.0))
        return self.reflection_residual if self.get_paths(sweep) == 2 else UNCORRECTED_MATCH


UNDESCRIBED = Analyser()


def parse_analyser(given: Mapping[str, Any]) -> Analyser:
    """Return an analyser from a description (the contract's JSON object); what is left out keeps its default.

    Raises BenchnightError `analyser.*`, field `analyser`, with every fault.
    """
    faults = ErrorCollector(
        "analyser.description", "The description of the analyser needs mending; see the list."
    )
    known = [field.name for field in fields(Analyser)]
    for name in given:
        if name not in known:
            faults.add(
                "analyser", "analyser.unknown_field", f"There is no '{name[:20]}'; known: {', '.join(known)}."
            )
    values: dict[str, Any] = {}
    if given.get("paths") is not None:
        values["paths"] = given["paths"]
        if isinstance(given["paths"], bool) or given["paths"] not in (1, 2):
            faults.add("analyser", "analyser.paths", "paths is 1 (drives port 1 alone) or 2 (drives both).")
    for name, (low, high, unit) in _RANGES.items():
        value = given.get(name)
        if value is None:
            continue
        values[name] = value
        number = isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
        if not number or not low <= value <= high:
            faults.add("analyser", "analyser.number", f"{name} is a number from {low:g} to {high:g}{unit}.")
    faults.raise_any()
    return Analyser(**values)
