"""A recipe against itself: do its turns fit the bore of its core?

The check speaks only where every size that it needs is known. It raises a note, never a verdict: a wrong
entry in the recipe is as likely as a wrong winding. Whether the curve is that of the recipe,
`recipe_contradiction` says.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from measurements.rf.flags import Flag, build_flag


@dataclass(frozen=True)
class CheckedCore:
    """One kind of core of a recipe. bore_mm: inner diameter, of a binocular core one hole; None where
    unknown."""

    bore_mm: float | None = None


@dataclass(frozen=True)
class CheckedWinding:
    """turns: passes through the core. wires: how many round conductors go along in each, at least."""

    turns: int
    wires: int
    wire_mm: float | None = None


def count_wires_in_bore(bore_mm: float, wire_mm: float) -> int:
    """Count the round wires that fit in the bore, laid side by side in rings from its wall inwards.

    The packing is an assumption (common practice, no source): a winding by hand lies like that, and a
    machine's tighter packing is not reached. A ring whose centres lie on the diameter c holds
    floor(pi / asin(d / c)) wires; two wires on a diameter fit while c >= d, one while the bore does.
    """
    count, ring_mm = 0, bore_mm - wire_mm
    while ring_mm >= wire_mm:
        count += math.floor(math.pi / math.asin(min(wire_mm / ring_mm, 1.0)) + 1e-9)
        ring_mm -= 2 * wire_mm
    # what is left in the middle takes one more wire where the rings leave its width free
    return count + 1 if -1e-9 * wire_mm <= ring_mm else count


def flag_bore(cores: tuple[CheckedCore, ...], winding: CheckedWinding) -> tuple[Flag, ...]:
    """Raise a note where the turns cannot lie in the narrowest bore; nothing where a size is unknown."""
    bores_mm = [core.bore_mm for core in cores if core.bore_mm is not None]
    if winding.wire_mm is None or not bores_mm or winding.turns * winding.wires < 1:
        return ()
    room = count_wires_in_bore(min(bores_mm), winding.wire_mm)
    needed = winding.turns * winding.wires
    if needed <= room:
        return ()
    return (
        build_flag(
            "turns_do_not_fit",
            turns=_counted(winding.turns, "turn"),
            passes=_counted(needed, "wire"),
            wire_mm=f"{winding.wire_mm:g}",
            bore_mm=f"{min(bores_mm):g}",
            room=room,
        ),
    )


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"
