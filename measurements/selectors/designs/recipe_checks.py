"""A recipe held against its own sizes and, beside a common-mode result, against what was measured.

Reference data says what the core and the wire are; the rules are `rf.diagnosis.winding_check`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from measurements.models import Conductor, Mix
from measurements.models import Core as ListedCore
from measurements.rf.diagnosis import winding_check
from measurements.rf.diagnosis.winding_check import CheckedCore, CheckedWinding
from measurements.rf.ferrites import ferrite_cores
from measurements.rf.ferrites.ferrite_cores import Permeability

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
RINGS = ("toroid", "bead")
RecipeNotes = tuple[dict[str, Any], ...]


def list_recipe_notes(
    recipe: Mapping[str, Any], result: Mapping[str, Any], traces: Mapping[str, Any]
) -> RecipeNotes:
    """Notes on a recipe in normal form beside a test's result and traces, of the form of its flags.

    Three queries. The inductance is judged of 1:1 current devices on one core or stack: there alone all
    wires of a common-mode test are one winding of the recipe's turns.
    """
    winding = recipe["winding"]
    cores = _cores(recipe["cores"])
    wire_mm = Conductor.objects.filter(name=winding["conductor"]).values_list("outer_mm", flat=True).first()
    made = CheckedWinding(winding["turns"], WIRES_PER_TURN[winding["style"]], wire_mm)
    found = winding_check.flag_bore(tuple(cores), made)
    simple = recipe["principle"] == "current" and recipe["ratio"] == "1:1" and len(cores) == 1
    if result["kind"] != "common_mode" or not simple or not traces.get("reactance_ohm"):
        return tuple(flag.as_dict() for flag in found)
    freq_hz, resistance_ohm, reactance_ohm = (
        np.array(traces[name], dtype=np.float64) for name in ("freq_hz", "resistance_ohm", "reactance_ohm")
    )
    stray_f = result["summary"].get("stray_capacitance_f")
    z_ohm = resistance_ohm + 1j * reactance_ohm
    found += winding_check.flag_inductance(cores[0], winding["turns"], freq_hz, z_ohm, stray_f)
    return tuple(flag.as_dict() for flag in found)


def _cores(given: list[Mapping[str, Any]]) -> list[CheckedCore]:
    columns = ("shape", "outer_mm", "inner_mm", "height_mm", "al_nh", "al_tolerance_percent")
    parts = [core["part"] for core in given if "part" in core]
    listed = {row["part"]: row for row in ListedCore.objects.filter(part__in=parts).values("part", *columns)}
    names = {core["mix"] for core in given}
    mixes = {row["name"]: row for row in Mix.objects.filter(name__in=names).values()}
    return [
        _core(core, {**core, **listed.get(core.get("part"), {})}, mixes.get(core["mix"])) for core in given
    ]


def _core(given: Mapping[str, Any], row: Mapping[str, Any], mix: Mapping[str, Any] | None) -> CheckedCore:
    size_mm = [row.get(name) for name in ("outer_mm", "inner_mm", "height_mm")]
    ring = row["shape"] in RINGS and None not in size_mm
    al_nh, tolerance = row.get("al_nh"), row.get("al_tolerance_percent")
    return CheckedCore(
        bore_mm=row.get("inner_mm") if row["shape"] in ROUND_BORES else None,
        stacked=given["stacked"],
        factor_m=ferrite_cores.toroid_factor_m(*size_mm) if ring else None,
        a_l_h=None if al_nh is None else al_nh * 1e-9,
        tolerance=None if tolerance is None else tolerance / 100,
        mu_initial=None if mix is None else mix["initial_permeability"],
        permeability=None if mix is None else build_permeability(mix["rows"]),
    )


def build_permeability(rows: list[list[float]]) -> Permeability | None:
    """The published table of a mix, None where there is none."""
    if len(rows) < 2:
        return None
    freq_hz, real, imag = np.array(rows, dtype=np.float64).T
    return Permeability(freq_hz, real, imag)
