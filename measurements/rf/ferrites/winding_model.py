"""A winding as the model sees it: turns on a core, how many such lines lie in parallel, and how it lies."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from measurements.errors import BenchnightError
from measurements.rf.ferrites import ferrite_cores
from measurements.rf.ferrites.ferrite_cores import MU0_H_PER_M

BEADS_STYLE = "beads_on_coax"
WINDING_STYLES = ("coax", "bifilar", "twisted_pair", "trifilar", "parallel_wires", "single", BEADS_STYLE)


@dataclass(frozen=True)
class WindingModel:
    """turns: passes through each core or stack. factor_m: Ae/le of one line's cores together.

    lines: how many like windings lie in parallel, each on cores of its own (a 4:1 current balun has
    two). turn_mm: length of one turn around the section of the core. wire_mm: over the insulation,
    None where not known. split: the two halves lie on opposite sides of the core.
    """

    mix: str
    style: str
    turns: int
    factor_m: float
    turn_mm: float
    wire_mm: float | None = None
    split: bool = False
    lines: int = 1

    def __post_init__(self) -> None:
        if self.turns < 1 or self.factor_m <= 0 or self.turn_mm <= 0 or self.lines < 1:
            raise BenchnightError(
                "winding.turns", "A winding needs at least one turn on a core of a known size.", field="turns"
            )

    @property
    def l0_h(self) -> float:
        """Return inductance of one line at a relative permeability of 1, mu0 N^2 Ae/le, henry."""
        return MU0_H_PER_M * self.turns**2 * self.factor_m

    @property
    def beads(self) -> bool:
        """Return a single pass through a string of cores: there are no turns that lie beside each other."""
        return self.style == BEADS_STYLE or self.turns == 1


def build_stacked_winding(
    size_mm: tuple[float, float, float], cores: int, *, mix: str, style: str, turns: int, **lies: Any
) -> WindingModel:
    """Return a winding on so many like rings on top of each other; size: outer and inner diameter, height.

    lies: wire_mm, split, lines. Raises BenchnightError `core.size`.
    """
    outer, inner, height = size_mm
    factor_m = cores * ferrite_cores.toroid_factor_m(outer, inner, height)
    turn_mm = 2 * (cores * height + (outer - inner) / 2)
    return WindingModel(mix=mix, style=style, turns=turns, factor_m=factor_m, turn_mm=turn_mm, **lies)


def build_recipe_winding(
    recipe: Mapping[str, Any],
    sizes_mm: Mapping[str, tuple[float, float, float]],
    wires_mm: Mapping[str, float | None],
) -> WindingModel | None:
    """Return the winding of a recipe in normal form; None where the model does not reach.

    sizes_mm: of listed rings and beads by part number. wires_mm: diameters by conductor. It reaches
    current devices whose separate cores are alike: their lines lie in parallel for common-mode current, one
    line and one core for 1:1, two for 4:1, three for 9:1. Several separate cores of a 1:1 device are one
    line through all of them. Voltage transformers are wound for something else than rejection.
    """
    if recipe["principle"] != "current":
        return None
    given = [_ring(core, sizes_mm) for core in recipe["cores"]]
    rings = [ring for ring in given if ring is not None]
    if len(rings) < len(given) or len(set(rings)) != 1:
        return None
    size_mm, count, mix = rings[0]
    lines = count_parallel_lines(recipe["ratio"])
    if lines is None or (lines > 1 and len(rings) not in (1, lines)):
        return None
    if lines > 1 and len(rings) == 1:  # all lines on one core: their windings are one for common mode
        lines = 1
    elif lines == 1:
        count *= len(rings)
    winding = recipe["winding"]
    return build_stacked_winding(
        size_mm,
        count,
        mix=mix,
        style=winding["style"],
        turns=winding["turns"],
        wire_mm=wires_mm.get(winding["conductor"]),
        split=winding["split"],
        lines=lines,
    )


def count_parallel_lines(ratio: str) -> int | None:
    """Count the lines of a current device of this ratio: its square root; None unless whole."""
    first, _, second = ratio.partition(":")
    if second != "1" or not first.isdigit():
        return None
    root = math.isqrt(int(first))
    return root if root >= 1 and root * root == int(first) else None


def _ring(
    core: Mapping[str, Any], sizes_mm: Mapping[str, tuple[float, float, float]]
) -> tuple[tuple[float, float, float], int, str] | None:
    names = ("outer_mm", "inner_mm", "height_mm")
    if "part" in core:
        size = sizes_mm.get(core["part"])
    elif core["shape"] in ("toroid", "bead") and all(core.get(name) for name in names):
        size = (float(core["outer_mm"]), float(core["inner_mm"]), float(core["height_mm"]))
    else:
        size = None
    if size is None or not (0 < size[1] < size[0] and size[2] > 0):
        return None  # a bead may have been typed with its bore as its width: no ring
    return size, int(core["stacked"]), str(core["mix"])
