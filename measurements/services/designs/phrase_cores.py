"""Cores of a phrase: from a number, a size name or a diameter to a core of a recipe. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from measurements.rf.ferrites import core_names
from measurements.services.designs.recipe_cores import SIZE_KEYS, ListedCore
from measurements.services.designs.recipes import Catalogue

OUTER_TOLERANCE = 0.015  # 2.4 in is 60.96 mm, and people round


def find_part(text: str, catalogue: Catalogue) -> dict[str, Any] | None:
    """Find a listed core by the maker's number."""
    return next((_by_part(core) for core in catalogue.cores if core.part == text), None)


def find_named_core(digits: str, letter: str, mix: str | None, catalogue: Catalogue) -> dict[str, Any] | None:
    """Find the ring of a size name such as 240 or 50 A; by size alone where no part or mix is known."""
    name = f"FT{digits}{letter.upper()}"
    if name not in core_names.RING_SIZES:
        return None
    for core in catalogue.cores:
        size_mm = (core.outer_mm, core.inner_mm, core.height_mm)
        if core.mix == mix and core_names.find_size_name(core.shape, size_mm) == name:
            return _by_part(core)
    sizes = dict(zip(SIZE_KEYS, core_names.RING_SIZES[name], strict=True))
    return {"shape": "toroid", **sizes, **({"mix": mix} if mix else {})}


def find_sized_core(core: Mapping[str, Any], catalogue: Catalogue) -> tuple[dict[str, Any], str]:
    """Complete a core of which the outer diameter is known, and name the choice in words; else as it is."""
    given = {"shape": "toroid", **core}
    if all(key in given for key in SIZE_KEYS):
        return given, ""
    near = [
        name
        for name, size_mm in core_names.RING_SIZES.items()
        if abs(size_mm[0] / float(core["outer_mm"]) - 1) <= OUTER_TOLERANCE
    ]
    if not near:
        return given, ""
    name = min(near, key=len)  # without a letter: the height that people mean
    digits, letter = name[2:].rstrip("AB"), name[2:].lstrip("0123456789")
    found = find_named_core(digits, letter, core.get("mix"), catalogue)
    return found or given, f"Taken for {name}, the usual ring of this diameter."


def _by_part(core: ListedCore) -> dict[str, Any]:
    return {"part": core.part, "shape": core.shape, "mix": core.mix}
