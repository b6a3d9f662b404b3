"""A ratio device as it is wound: turns on either side, core, wire; and the priors of what a core table
leaves out.

Leakage, line impedance, capacitance of leads and resistance of wires are no part of a core's table. Until
a group
has tests that teach them, they are drawn from the priors below. Each is our own estimate from geometry;
where an
everyday value of the trade agrees with it, the comment says so ("from memory").
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, Literal

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.ferrites import ferrite_cores
from measurements.rf.ferrites.winding_model import WindingModel
from measurements.rf.impedance_ratio import parse_ratio
from measurements.rf.sweeps.sweep import Floats

Principle = Literal["voltage", "current"]
FILAR_STYLES = {"bifilar": 2, "twisted_pair": 2, "trifilar": 3}  # wires that lie side by side all along
LINE_STYLES = ("coax", "bifilar", "twisted_pair", "parallel_wires")
LEAD_M = 0.05  # of wire beyond the core, for each line or winding (own estimate)
COPPER_SHARE = 0.6  # of the diameter over the insulation (own estimate); 1 mm where nobody gave a wire
USUAL_WIRE_MM = 1.7
LIGHT_M_PER_S = 299_792_458.0
# Wire longer than this part of a wavelength is no lumped part. A voltage device's prediction ends there.
LONGEST_SHARE = 1 / 6


@dataclass(frozen=True)
class PartPrior:
    """A positive quantity: its middle value and the standard deviation of its natural logarithm."""

    middle: float
    spread: float

    def draw(self, normal: Floats) -> Floats:
        """Turn standard normal draws into values."""
        found: Floats = self.middle * np.exp(self.spread * normal)
        return found


@dataclass(frozen=True)
class RatioPriors:
    """Priors of the parts. Own estimates, no source, except where a comment names one.

    leakage_share: flux of a separate winding that misses the other, as mu0 times turn length times turns
    squared. Two turns of 51 mm give 0.21 uH. With the far side's capacitance that is what a capacitor of
    50 to
    150 pF compensates, as the trade uses with two turns (common practice, from memory).
    far_share: of the capacitance that the law gives a choke's winding, which counts across a transformer's
    far side.
    pair_ohm, coax_ohm, pair_speed, coax_speed: of lines; speed as a share of light's.
    far_lead_f: connector and leads at the far side. proximity: what neighbouring turns add to copper.
    """

    leakage_share: PartPrior = PartPrior(0.8, 0.4)
    far_share: PartPrior = PartPrior(0.35, 0.35)
    pair_ohm: PartPrior = PartPrior(95.0, 0.2)
    coax_ohm: PartPrior = PartPrior(50.0, 0.03)
    pair_speed: PartPrior = PartPrior(0.75, 0.08)
    coax_speed: PartPrior = PartPrior(0.69, 0.03)
    far_lead_f: PartPrior = PartPrior(0.6e-12, 0.5)
    near_lead_f: PartPrior = PartPrior(3.0e-12, 0.5)
    proximity: PartPrior = PartPrior(1.5, 0.3)


PRIORS = RatioPriors()


@dataclass(frozen=True)
class RatioWinding:
    """near_turns: passes of the winding at the unbalanced side; of a current device, of each line.

    size_mm: outer and inner diameter and height of one ring; stacked: rings on each other. compensation_f:
    capacitor
    across the unbalanced side. far_turns: of a voltage device, all turns between the far terminals; the
    nearest
    whole number by default. Raises BenchnightError `ratio.winding` where this cannot be wound.
    """

    principle: Principle
    ratio: Fraction
    mix: str
    size_mm: tuple[float, float, float]
    stacked: int
    near_turns: int
    style: str
    wire_mm: float | None = None
    compensation_f: float = 0.0
    far_turns: int = field(default=0)

    def __post_init__(self) -> None:
        if self.near_turns < 1 or self.stacked < 1 or self.compensation_f < 0 or self.far_turns < 0:
            raise _refuse("Give at least one turn, one core, and no negative capacitor.", "turns")
        if self.ratio <= 1:
            raise _refuse(
                "A ratio device has a ratio above 1:1; a choke is predicted by its rejection.", "ratio"
            )
        if self.principle == "current":
            if self.lines is None:
                raise _refuse("A current device of equal lines is 4:1, 9:1 or 16:1.", "ratio")
            if self.style not in LINE_STYLES:
                raise _refuse("A line of a current device is coax or a pair of wires.", "style")
        elif self.style in ("coax", "beads_on_coax"):
            raise _refuse(
                "A voltage device is wound with wires: single, bifilar, trifilar or twisted.", "style"
            )
        if self.far_turns == 0:
            whole = max(round(self.near_turns * math.sqrt(self.ratio)), self.near_turns + 1)
            object.__setattr__(self, "far_turns", whole)

    @property
    def lines(self) -> int | None:
        """Count the lines of a current device; None where no whole number of two to four gives the ratio."""
        root = math.isqrt(self.ratio.numerator)
        fits = self.ratio.denominator == 1 and root * root == self.ratio.numerator and 2 <= root <= 4
        return root if fits else None

    @property
    def wound_ratio(self) -> float:
        """Compute the impedance ratio of the turns as they are."""
        if self.principle == "current":
            return float(self.ratio)
        return (self.far_turns / self.near_turns) ** 2

    @property
    def filar(self) -> int:
        """Count wires that lie side by side, 0 for separate windings or where they do not give the ratio."""
        wires = FILAR_STYLES.get(self.style, 0)
        return wires if self.principle == "voltage" and wires * self.near_turns == self.far_turns else 0

    @property
    def factor_m(self) -> float:
        """Compute Ae/le of the cores of one winding, metres."""
        return self.stacked * ferrite_cores.toroid_factor_m(*self.size_mm)

    @property
    def turn_m(self) -> float:
        """Compute the length of one turn around the section of the core, metres."""
        outer, inner, height = self.size_mm
        return 1e-3 * 2 * (self.stacked * height + (outer - inner) / 2)

    @property
    def cores_in_all(self) -> int:
        """Count the cores that it takes."""
        return self.stacked * (self.lines or 1 if self.principle == "current" else 1)

    @property
    def wire_length_m(self) -> float:
        """Compute the wire between the far terminals of a voltage device, or one line, metres."""
        turns = self.near_turns if self.principle == "current" else self.far_turns
        return turns * self.turn_m + LEAD_M

    @property
    def lumped_to_hz(self) -> float:
        """Compute where the model ends: wire of a sixth of a wavelength. Lines of a current device have no
        end.
        """
        if self.principle == "current":
            return math.inf
        length_m = self.wire_length_m / max(self.filar, 1)  # side by side, the longest path is one wire
        return LONGEST_SHARE * LIGHT_M_PER_S / length_m

    @property
    def copper_mm(self) -> float:
        """Estimate the bare diameter, mm."""
        return COPPER_SHARE * (USUAL_WIRE_MM if self.wire_mm is None else self.wire_mm)

    def build_winding(self) -> WindingModel:
        """Build the winding whose impedance the core decides: the far one, or one line of a current
        device.
        """
        turns = self.near_turns if self.principle == "current" else self.far_turns
        return WindingModel(self.mix, self.style, turns, self.factor_m, 1e3 * self.turn_m, self.wire_mm)


MOST_OFF_RATIO = 0.15  # of the ratio that whole turns may give


def build_recipe_device(
    recipe: Mapping[str, Any],
    sizes_mm: Mapping[str, tuple[float, float, float]],
    wires_mm: Mapping[str, float | None],
) -> RatioWinding | None:
    """Build the voltage device of a recipe in normal form; None where the model does not reach.

    sizes_mm: of listed rings by part number. A recipe's turns are passes through the core: of wires side
    by side
    those of each, of a single wire all of them, so that the unbalanced side has turns / sqrt(ratio). It
    reaches one
    core or one stack, and turns that give the ratio.
    """
    ratio, winding, cores = parse_ratio(recipe["ratio"]), recipe["winding"], recipe["cores"]
    if recipe["principle"] != "voltage" or ratio <= 1 or len(cores) != 1:
        return None
    size_mm = _find_size(cores[0], sizes_mm)
    style, turns = winding["style"], int(winding["turns"])
    if size_mm is None or style in ("coax", "beads_on_coax"):
        return None
    side_by_side = FILAR_STYLES.get(style, 0) ** 2 == ratio
    near = turns if side_by_side else round(turns / math.sqrt(ratio))
    far = near * FILAR_STYLES[style] if side_by_side else turns
    if near < 1 or far <= near or abs((far / near) ** 2 / float(ratio) - 1) > MOST_OFF_RATIO:
        return None
    wire_mm = wires_mm.get(winding["conductor"])
    return RatioWinding(
        "voltage", ratio, cores[0]["mix"], size_mm, cores[0]["stacked"], near, style, wire_mm, 0.0, far
    )


def _find_size(
    core: Mapping[str, Any], sizes_mm: Mapping[str, tuple[float, float, float]]
) -> tuple[float, float, float] | None:
    if "part" in core:
        return sizes_mm.get(core["part"])
    size = tuple(core.get(name) for name in ("outer_mm", "inner_mm", "height_mm"))
    return None if core["shape"] != "toroid" or None in size else size  # type: ignore[return-value]


def _refuse(text: str, name: str) -> BenchnightError:
    return BenchnightError("ratio.winding", text, field=name)
