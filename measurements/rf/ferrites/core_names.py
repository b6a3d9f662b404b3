"""Names of ferrite cores as the trade says them, both ways: from sizes to a name, and from a name to sizes.

General usage calls a ferrite ring after its outer diameter in hundredths of an inch, with a letter where a
second height of that diameter is common, and the mix behind it: 61.0 x 35.55 x 12.7 mm in mix 31 is FT240-31.
Which sizes carry a name is common practice, from memory; no published list was read. A core without such a
name is called by its shape and size.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

Size = tuple[float | None, float | None, float | None]

MM_PER_INCH = 25.4
SIZE_TOLERANCE = 0.01  # as in a recipe: within 1 % of a size is that size
UNKNOWN_MIX = "unknown"

# name: outer and inner diameter and height in mm
RING_SIZES: Mapping[str, tuple[float, float, float]] = {
    "FT23": (5.84, 3.05, 1.52),
    "FT37": (9.53, 4.75, 3.17),
    "FT50": (12.7, 7.15, 4.9),
    "FT50A": (12.7, 7.9, 6.35),
    "FT50B": (12.7, 7.9, 12.7),
    "FT82": (21.0, 13.2, 6.35),
    "FT87": (22.1, 13.7, 6.35),
    "FT87A": (22.1, 13.7, 12.5),
    "FT114": (29.0, 19.0, 7.5),
    "FT114A": (29.0, 19.0, 13.85),
    "FT140": (35.55, 23.0, 12.7),
    "FT150": (38.1, 19.05, 6.35),
    "FT150A": (38.1, 19.05, 12.7),
    "FT193": (49.1, 31.8, 15.9),
    "FT240": (61.0, 35.55, 12.7),
    "FT290": (73.65, 38.85, 12.7),
}
# the same ring sold in a coat is measured over the coat, and carries the same name
COATED_RING_SIZES: Mapping[str, tuple[float, float, float]] = {"FT240": (61.8, 34.25, 13.7)}
RING_NAME = re.compile(r"ft[\s-]?(\d{2,3})[\s-]?([ab]?)(?![a-z0-9])", re.IGNORECASE)


@dataclass(frozen=True)
class CoreLook:
    """All that a name needs of a core. size_mm: outer, inner, height, None where unknown."""

    shape: str
    mix: str
    size_mm: Size
    part: str = ""


def look_at_core(core: Mapping[str, Any], listed_mm: Mapping[str, Size]) -> CoreLook:
    """Read a core of a recipe in normal form; listed_mm holds the sizes of part numbers."""
    part = str(core.get("part", ""))
    typed = (core.get("outer_mm"), core.get("inner_mm"), core.get("height_mm"))
    size_mm = listed_mm.get(part, (None, None, None)) if part else typed
    return CoreLook(str(core["shape"]), str(core["mix"]), size_mm, part)


def find_size_name(shape: str, size_mm: Size) -> str | None:
    """Find the size name of a ring, such as `FT240`; None where general usage has none."""
    if shape != "toroid":
        return None
    for table in (RING_SIZES, COATED_RING_SIZES):
        for name, named_mm in table.items():
            if all(
                mm is not None and abs(mm / wanted - 1) <= SIZE_TOLERANCE + 1e-9
                for mm, wanted in zip(size_mm, named_mm, strict=True)
            ):
                return name
    return None


def name_core(core: CoreLook) -> str:
    """Name a core by size and mix: `FT240-31`, or `toroid 51 × 32 × 19 mm` where the trade has no name."""
    size_name = find_size_name(core.shape, core.size_mm)
    if size_name is not None:
        return size_name if core.mix == UNKNOWN_MIX else f"{size_name}-{core.mix}"
    size = format_size_mm(core.size_mm)
    if size:
        return f"{core.shape} {size}"
    return f"{core.shape} {core.part}".strip()


def title_core(core: CoreLook) -> str:
    """Write a core as titles do: `FT240-31 (61 mm, mix 31)`, `toroid 51 × 32 × 19 mm (mix 43)`."""
    outer_mm = core.size_mm[0]
    named = find_size_name(core.shape, core.size_mm) is not None
    width = f"{outer_mm:g} mm, " if named and outer_mm is not None else ""
    return f"{name_core(core)} ({width}mix {core.mix})"


def describe_core(core: CoreLook) -> str:
    """Describe a core in full: name, mm, inch, mix, and the maker's number last."""
    inches = " × ".join(f"{mm / MM_PER_INCH:.2f}" for mm in core.size_mm if mm is not None)
    size = f"{format_size_mm(core.size_mm)} ({inches} in)" if inches else ""
    named = find_size_name(core.shape, core.size_mm) is not None
    first = f"{name_core(core)}: {size}" if named else f"{core.shape} {size}".strip()
    number = f", maker's number {core.part}" if core.part else ""
    return f"{first}, mix {core.mix}{number}"


def format_size_mm(size_mm: Size) -> str:
    """Format the known dimensions: `61 × 35.55 × 12.7 mm`; empty where none is known."""
    known = " × ".join(f"{mm:g}" for mm in size_mm if mm is not None)
    return f"{known} mm" if known else ""


def squeeze_size_name(text: str) -> str:
    """Write size names in a typed text in one way: `ft 240 - 31` becomes `FT240-31`; the rest stays."""
    tight = re.sub(r"\s*-\s*", "-", text.strip())
    return RING_NAME.sub(lambda found: f"FT{found[1]}{found[2].upper()}", tight)
