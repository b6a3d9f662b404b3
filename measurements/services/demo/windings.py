"""The windings of the demo scenario: a recipe, the maker's published ferrite data and one builder's hand.

Every device of the demo is invented; what it shows follows from its recipe
(`rf.ferrites.ferrite_cores`). The stray
capacitance and the lengths of wire are our own estimates, common practice without a source.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np

from measurements.rf.ferrites import ferrite_cores
from measurements.rf.sweeps.sweep import Complexes, Floats
from measurements.services.reference import reference_files

SEED = 20240117  # any number: another one makes other devices
CORE_TOLERANCE = 0.20  # makers state +/-20 % on A_L for most of the cores listed
PLAIN_WIRE_MM = 2.0  # over the insulation of a wire whose catalogue row gives no diameter
BEADS_STRAY_F = 0.3e-12


@dataclass(frozen=True)
class BuildVariation:
    """How far one device is off its recipe: factors near 1.

    permeability: of the core it was wound on. stray: of the capacitance, by the layout of the turns.
    line: of the wire's line impedance. leakage: of a transformer's leakage inductance.
    """

    permeability: float
    stray: float
    line: float
    leakage: float


def create_random_stream(*what: str) -> np.random.RandomState:
    """Return random numbers that are the same for the same words on every machine.

    RandomState, because numpy keeps its stream unchanged for good.
    """
    digest = hashlib.sha256("|".join((str(SEED), *what)).encode()).digest()
    return np.random.RandomState(int.from_bytes(digest[:4], "big"))


def draw_build_variation(owner: str, tag: str) -> BuildVariation:
    """Return the hand and the core of one device: core within the maker's tolerance, layout as it came."""
    normal = np.clip(create_random_stream("build", owner, tag).standard_normal(4), -2.0, 2.0)
    return BuildVariation(
        permeability=float(1 + CORE_TOLERANCE / 2 * normal[0]),
        stray=float(np.exp(0.15 * normal[1])),
        line=float(1 + 0.05 * normal[2]),
        leakage=float(np.exp(0.15 * normal[3])),
    )


def choke_z_ohm(recipe: Mapping[str, Any], made: BuildVariation, freq_hz: Floats) -> Complexes:
    """Return Common-mode impedance (F,) of a device, all its wires of one side tied together.

    Cores of a recipe that are separate carry a line each: their chokes are in parallel (a 4:1 current
    balun on two cores). NaN outside the maker's permeability table.
    """
    admittance = sum(1 / _one_z_ohm(core, recipe["winding"], made, freq_hz) for core in recipe["cores"])
    return 1 / np.asarray(admittance)


def magnetising_z_ohm(
    recipe: Mapping[str, Any], made: BuildVariation, turns: float, freq_hz: Floats
) -> Complexes:
    """Return impedance (F,) of `turns` passes through all cores of a recipe, without any capacitance."""
    total: Complexes = np.zeros(freq_hz.shape, complex)
    for core in recipe["cores"]:
        mu = made.permeability * get_permeability(core["mix"]).at(freq_hz)
        total = total + ferrite_cores.winding_z_ohm(freq_hz, mu, turns, core_factor_m(core))
    return total


def core_factor_m(core: Mapping[str, Any]) -> float:
    """Return Ae/le of a core with those stacked on it, metres. A bead is a ring like any other."""
    return int(core["stacked"]) * ferrite_cores.toroid_factor_m(*get_core_size_mm(core))


def get_core_size_mm(core: Mapping[str, Any]) -> tuple[float, float, float]:
    """Return outer and inner diameter and height, by part number or as the recipe gives them."""
    row = _read_rows_by_name("cores.json", "part")[core["part"]] if "part" in core else core
    return float(row["outer_mm"]), float(row["inner_mm"]), float(row["height_mm"])


def get_wire_mm(winding: Mapping[str, Any]) -> float:
    """Return diameter over the insulation of the conductor of a recipe."""
    found = _read_rows_by_name("conductors.json", "name")[winding["conductor"]]["outer_mm"]
    return PLAIN_WIRE_MM if found is None else float(found)


def stray_f(winding: Mapping[str, Any]) -> float:
    """Return capacitance across a winding: grows with turns and with the thickness of the wire.

    A split winding keeps its two ends apart and has a quarter less.
    """
    if winding["style"] == "beads_on_coax":
        return BEADS_STRAY_F
    apart = 0.75 if winding["split"] else 1.0
    return apart * (0.8e-12 + 0.15e-12 * int(winding["turns"]) * math.sqrt(get_wire_mm(winding)))


@cache
def get_permeability(mix: str) -> ferrite_cores.Permeability:
    """Return the maker's published rows of a mix."""
    freq_hz, real, imag = np.array(_read_rows_by_name("mixes.json", "name")[mix]["rows"], dtype=np.float64).T
    return ferrite_cores.Permeability(freq_hz, real, imag)


def _one_z_ohm(
    core: Mapping[str, Any], winding: Mapping[str, Any], made: BuildVariation, freq_hz: Floats
) -> Complexes:
    mu = made.permeability * get_permeability(core["mix"]).at(freq_hz)
    stray = made.stray * stray_f(winding)
    return ferrite_cores.winding_z_ohm(freq_hz, mu, int(winding["turns"]), core_factor_m(core), stray)


@cache
def _read_rows_by_name(name: str, key: str) -> dict[str, dict[str, Any]]:
    """Return rows of a reference file by their name.

    The files, not the tables: what a steward changes must not change the demo's devices.
    """
    rows = json.loads((reference_files.DIRECTORY / name).read_text(encoding="utf-8"))["rows"]
    return {row[key]: row for row in rows}
