"""A build whose curve contradicts its recipe: held against tables and maker's tolerances alone.

What others measured plays no part, so that whether a test waits for its owner's word neither depends on
the order of uploads nor tells anything of others. A crack or none of these count where the level is off by
half and more; capacitance, leak and jig are no part of a recipe.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from measurements.rf.diagnosis import change_hypotheses, change_posterior, named_causes, winding_references
from measurements.rf.diagnosis.change_posterior import NONE_OF_THESE, ChangePosterior
from measurements.rf.diagnosis.named_causes import Cause, DiagnosedCurve, Likelihood
from measurements.rf.diagnosis.winding_references import RecipeWinding
from measurements.rf.ferrites import winding_model
from measurements.rf.ferrites.ferrite_cores import MU0_H_PER_M, Permeability
from measurements.rf.ferrites.winding_model import WindingModel
from measurements.rf.sweeps.sweep import Complexes, Floats

CONTRADICTED_FROM = 0.9  # the share of what a recipe rules out
OFF_BY = math.log(1.5)  # of the level, where no other recipe explains the curve
FEWEST_POINTS, LEAST_OCTAVES = 8, 1.0
QUICK_SURPRISE, QUICK_PULL = 1.0, 2.0  # a plain build that fits so well needs no further look
USUAL_TURN_MM = 50.0
# Up to this product of mu_i and frequency a ferrite is within a few percent of its initial permeability and
# loses little, in every published table (mixes 31, 43, 61, 73, 77).
FLAT_TO_HZ, LEAST_FLAT_HZ = 1e9, 2e6
OF_RECIPE = ("turn_count", "core_count", "mix")


@dataclass(frozen=True)
class RecipeCheck:
    """contradicts: whether the build waits for its owner's word.

    low_ratio: |Z| at the lowest points, own to the recipe's.
    causes, likelihoods: of the one posterior, by the recipe alone; empty where the recipe explains the curve.
    """

    contradicts: bool
    low_ratio: float
    causes: tuple[Cause, ...] = ()
    likelihoods: tuple[Likelihood, ...] = ()


@dataclass(frozen=True)
class ListedCore:
    """A core of the maker's list, with its A_L and the tolerance of it; size_mm: None where it is no ring."""

    size_mm: tuple[float, float, float] | None
    a_l_h: float | None = None
    tolerance: float | None = None


def build_ring_recipe(mix: str, turns: int, factor_m: float, turn_mm: float = 50.0) -> RecipeWinding:
    """Build a single winding on a ring of this Ae/le, in metres."""
    return winding_references.build_recipe_winding(WindingModel(mix, "coax", turns, factor_m, turn_mm))


def build_winding_of_recipe(
    recipe: Mapping[str, Any],
    listed: Mapping[str, ListedCore],
    wires_mm: Mapping[str, float | None],
    initial: Mapping[str, float | None],
) -> RecipeWinding | None:
    """Build the winding of a recipe in normal form; None where neither its size nor its A_L is known.

    listed: by part number. initial: initial permeability by mix, for cores that are listed by A_L alone.
    Several windings on one core, as of a 4:1 balun, are not judged: their sum depends on how they are wired.
    """
    sizes_mm = {part: core.size_mm for part, core in listed.items() if core.size_mm is not None}
    cores = recipe["cores"]
    known = [listed[core["part"]] for core in cores if core.get("part") in listed]
    tolerance = max((core.tolerance for core in known if core.tolerance is not None), default=None)
    wound = winding_model.build_recipe_winding(recipe, sizes_mm, wires_mm)
    if wound is None and len(cores) == 1 and recipe["ratio"] == "1:1" and recipe["principle"] == "current":
        wound = _build_by_a_l(recipe, known, initial)
    if wound is None or (recipe["ratio"] != "1:1" and wound.lines == 1):
        return None
    count = sum(core["stacked"] for core in cores) // wound.lines
    return winding_references.build_recipe_winding(wound, count, tolerance)


def _build_by_a_l(
    recipe: Mapping[str, Any], known: list[ListedCore], initial: Mapping[str, float | None]
) -> WindingModel | None:
    """Build a winding on a core that is no ring: its Ae/le follows from A_L and the initial permeability."""
    core, winding = recipe["cores"][0], recipe["winding"]
    mu_initial = initial.get(core["mix"])
    if not known or known[0].a_l_h is None or not mu_initial:
        return None
    factor_m = core["stacked"] * known[0].a_l_h / (MU0_H_PER_M * mu_initial)
    return WindingModel(core["mix"], winding["style"], winding["turns"], factor_m, USUAL_TURN_MM)


def build_flat_table(mu_initial: float) -> Permeability | None:
    """Build the table of a mix that has none, where it is flat and hardly loses; None where that ends too
    low for a sweep."""
    last_hz = FLAT_TO_HZ / mu_initial
    if last_hz < LEAST_FLAT_HZ:
        return None
    flat = np.full(2, mu_initial)
    return Permeability(np.array([1e5, last_hz]), flat, np.zeros(2))


def hold_against_recipe(
    made: RecipeWinding, freq_hz: Floats, z_ohm: Complexes, tables: Mapping[str, Permeability]
) -> RecipeCheck | None:
    """Judge whether `z_ohm` (F,) can be `made`; None where no table or too little of the sweep can tell.

    Only what the recipe's own table covers is compared; mixes whose tables end sooner are not weighed.
    """
    own = tables.get(made.mix)
    if own is None:
        return None
    inside = (freq_hz >= own.freq_hz[0]) & (freq_hz <= own.freq_hz[-1])
    freq, values = change_posterior.thin_sweep(freq_hz[inside], z_ohm[inside])
    if freq.size < FEWEST_POINTS or math.log2(freq[-1] / freq[0]) < LEAST_OCTAVES:
        return None
    mu = {name: table.at(freq) for name, table in tables.items() if table.covers(freq)}
    reference = winding_references.build_recipe_reference(made, freq, mu)
    seen = DiagnosedCurve(reference, values, "what the recipe gives", float(freq[0]), float(freq[-1]))
    hypotheses = change_hypotheses.list_hypotheses(reference)
    plain = change_posterior.weigh_hypotheses(hypotheses[:1], freq, values).best("as_built")
    if plain.surprise <= QUICK_SURPRISE and plain.pull <= QUICK_PULL:
        return RecipeCheck(False, seen.low_ratio)
    posterior = change_posterior.weigh_hypotheses(hypotheses, freq, values)
    return _conclude(seen, posterior)


def _conclude(seen: DiagnosedCurve, posterior: ChangePosterior) -> RecipeCheck:
    ruled_out = sum(share for code, share in posterior.by_code.items() if code.startswith(OF_RECIPE))
    other = posterior.by_code.get("cracked_core", 0.0) + posterior.by_code[NONE_OF_THESE]
    far = abs(math.log(seen.low_ratio)) > OFF_BY
    contradicts = ruled_out + (other if far else 0.0) >= CONTRADICTED_FROM
    if posterior.best("as_built").share >= 0.5:
        return RecipeCheck(contradicts, seen.low_ratio)
    causes = named_causes.list_named_causes(seen, posterior)
    return RecipeCheck(contradicts, seen.low_ratio, causes, named_causes.list_likelihoods(posterior))
