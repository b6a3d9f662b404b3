"""The readable title of a recipe: short, in the words of the trade."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from measurements.rf.ferrites import core_names
from measurements.rf.ferrites.core_names import Size

MOST_CHARACTERS = 200
STYLE_WORDS = {
    "coax": "coax",
    "bifilar": "bifilar",
    "twisted_pair": "twisted pair",
    "trifilar": "trifilar",
    "parallel_wires": "parallel wires",
    "single": "single wire",
    "beads_on_coax": "beads on coax",
}


def build_title(recipe: Mapping[str, Any], listed_mm: Mapping[str, Size]) -> str:
    """Build such as `12 turns RG-316 on FT240-31 (61 mm, mix 31)` from a recipe in normal form.

    listed_mm: outer, inner and height of listed cores by part number. A choke says no more than its winding
    and core; another device begins with ratio, principle and purpose.
    """
    winding = recipe["winding"]
    if winding["style"] == "beads_on_coax" and winding["turns"] == 1:
        cable = "coax" if winding["conductor"] == "other" else winding["conductor"]
        return f"{_name_device(recipe)}{_name_cores(recipe, listed_mm, '× ')} on {cable}"[:MOST_CHARACTERS]
    turns = f"{winding['turns']} turn{'s' if winding['turns'] != 1 else ''}"
    split = ", split winding" if winding["split"] else ""
    title = f"{_name_device(recipe)}{turns} {_name_wire(winding)} on {_name_cores(recipe, listed_mm)}{split}"
    return title[:MOST_CHARACTERS]


def _name_device(recipe: Mapping[str, Any]) -> str:
    if recipe["purpose"] == "choke":
        return ""  # always 1:1 and current
    return f"{recipe['ratio']} {recipe['principle']} {recipe['purpose']}, "


def _name_wire(winding: Mapping[str, Any]) -> str:
    """Name style and conductor; a cable that is coax by its name needs no second word for it."""
    style, conductor = winding["style"], winding["conductor"]
    if conductor == "other":
        return STYLE_WORDS[style]
    if style == "coax" and conductor.startswith("RG-"):
        return str(conductor)
    return f"{STYLE_WORDS[style]} {conductor}"


def _name_cores(recipe: Mapping[str, Any], listed_mm: Mapping[str, Size], stacked: str = "stacked ") -> str:
    counted: dict[str, int] = {}
    for core in recipe["cores"]:
        stack = f"{core['stacked']} {stacked}" if core["stacked"] > 1 else ""
        name = stack + core_names.title_core(core_names.look_at_core(core, listed_mm))
        counted[name] = counted.get(name, 0) + 1
    return " and ".join(f"{count} × {name}" if count > 1 else name for name, count in counted.items())
