"""A recipe held against its own sizes.

Reference data says what the core and the wire are; the rules are `rf.diagnosis.winding_check`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from measurements.rf.diagnosis import winding_check
from measurements.rf.diagnosis.winding_check import CheckedCore, CheckedWinding
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.selectors.reference import reference

# How many round conductors a turn takes at least; two lines side by side may be more.
WIRES_PER_TURN = {
    "coax": 1,
    "bifilar": 2,
    "twisted_pair": 2,
    "trifilar": 3,
    "parallel_wires": 2,
    "single": 1,
    "beads_on_coax": 1,
}
ROUND_BORES = ("toroid", "bead", "binocular")
RecipeNotes = tuple[dict[str, Any], ...]


def list_recipe_notes(recipe: Mapping[str, Any]) -> RecipeNotes:
    """List notes on a recipe in normal form, of the form of a result's flags. Two queries."""
    winding = recipe["winding"]
    wire_mm = {row.name: row.outer_mm for row in reference.list_conductors()}.get(winding["conductor"])
    made = CheckedWinding(winding["turns"], WIRES_PER_TURN[winding["style"]], wire_mm)
    found = winding_check.flag_bore(_list_checked_cores(recipe["cores"]), made)
    return tuple(flag.as_dict() for flag in found)


def _list_checked_cores(given: list[Mapping[str, Any]]) -> tuple[CheckedCore, ...]:
    listed = {row.part: {"shape": row.shape, "inner_mm": row.inner_mm} for row in reference.list_cores()}
    rows = [{**core, **listed.get(core.get("part"), {})} for core in given]
    return tuple(CheckedCore(row.get("inner_mm") if row["shape"] in ROUND_BORES else None) for row in rows)


def build_permeability(rows: list[list[float]]) -> Permeability | None:
    """Build the published table of a mix, None where there is none."""
    if len(rows) < 2:
        return None
    freq_hz, real, imag = np.array(rows, dtype=np.float64).T
    return Permeability(freq_hz, real, imag)
