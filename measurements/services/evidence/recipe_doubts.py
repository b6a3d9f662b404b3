"""Builds whose curve contradicts their recipe: they wait outside the evidence for their owner's word.

The doubt is computed from the recipe, the makers' tables and the test's own common-mode curve alone, when the
test is stored and when its device is filed under another recipe. The test holds it; it is no flag of its
result.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

import numpy as np
from django.db import transaction
from django.utils import timezone

from measurements.disclosure import published_figures
from measurements.disclosure.viewers import Viewer
from measurements.models import Conductor, Core, Device, Mix, Result, Test
from measurements.rf.diagnosis import recipe_contradiction
from measurements.rf.diagnosis.recipe_contradiction import ListedCore, RecipeCheck
from measurements.rf.evidence_grid import GRID_HZ, EvidenceCurve
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.services.operations import audit

RINGS = ("toroid", "bead")
EVIDENCE_KIND = "common_mode"
CURVE_DTYPE = np.dtype("<c8")  # as the database holds curves


def check_recipe(recipe: Mapping[str, Any] | None, curve: EvidenceCurve | None) -> dict[str, Any] | None:
    """Check what the curve says of a recipe in normal form, as it is kept with the test; None where it says
    nothing, and of a build that is not known.

    Holds `contradicts`, `low_ratio`, `causes` and `likelihoods` of `recipe_contradiction.RecipeCheck`.
    """
    if curve is None or recipe is None:
        return None
    z_ohm = np.asarray(curve.z_ohm, dtype=np.complex128)
    mixes = {row[0]: row[1:] for row in Mix.objects.values_list("name", "initial_permeability", "rows")}
    made = recipe_contradiction.build_winding_of_recipe(
        recipe,
        _get_listed_cores(recipe),
        _get_wires_mm(recipe),
        {name: row[0] for name, row in mixes.items()},
    )
    if made is None:
        return None
    tables = {name: _build_table(*row) for name, row in mixes.items()}
    known = {name: table for name, table in tables.items() if table is not None}
    found = recipe_contradiction.hold_against_recipe(made, GRID_HZ, z_ohm, known)
    return None if found is None or not (found.contradicts or found.likelihoods) else _format_check(found)


def is_waiting_for_recipe(test: Test) -> bool:
    """Tell whether the curve contradicts the recipe and its owner has not answered for it yet."""
    doubt = test.recipe_doubt
    return doubt is not None and doubt["contradicts"] and test.recipe_confirmed_at is None


def counts_as_evidence(test: Test, figures: dict[str, Any]) -> bool:
    """Tell whether no flag leaves the whole test out, its recipe is not in doubt, and some band has a vote.

    A loss or match belongs to one ratio: tested at another one than its design's, it has no vote. Of a build
    that is not known the ratio is nobody's yet; it counts for no design.
    """
    if is_waiting_for_recipe(test):
        return False
    if any(flag["severity"] == "exclude" and flag["band"] is None for flag in figures["flags"]):
        return False
    if figures["kind"] == EVIDENCE_KIND:
        return True
    if figures["kind"] not in published_figures.RATIO_KINDS:
        return False
    design = test.device.design
    if design is not None and design.ratio != figures["ratio"]:
        return False
    return bool(published_figures.extract_band_figures(figures))


def confirm_recipe(*, by: Viewer, test: Test) -> None:
    """Record that the owner has checked core, mix and turns: the test counts from now on, whatever its curve
    says."""
    with transaction.atomic():
        if not Test.objects.filter(pk=test.pk, recipe_confirmed_at=None).update(
            recipe_confirmed_at=timezone.now()
        ):
            return
        test.refresh_from_db()
        update_evidence(test)
        audit.record_action(by=by, action="test.confirm_recipe", subject=test.key)


def check_recipe_again(device: Device) -> None:
    """Hold every test of a device against the recipe that it is filed under now. Call inside a transaction.

    A confirmation of another recipe no longer counts.
    """
    for test in Test.objects.filter(device=device, kind__in=published_figures.KIND_RULES):
        check_test_again(test, device)


def check_test_again(test: Test, device: Device) -> None:
    """Hold one test against the recipe of the device that it is of now. Call inside a transaction."""
    test.device = device  # with the design that counts now
    if test.kind != EVIDENCE_KIND:
        update_evidence(test)
        return
    recipe = None if device.design is None else device.design.recipe
    result = Result.objects.filter(test=test, current=True).only("evidence_curve").first()
    curve = None
    if result is not None and result.evidence_curve:
        curve = EvidenceCurve(np.frombuffer(bytes(result.evidence_curve), CURVE_DTYPE))
    test.recipe_doubt, test.recipe_confirmed_at = check_recipe(recipe, curve), None
    test.save(update_fields=["recipe_doubt", "recipe_confirmed_at"])
    update_evidence(test)


def update_evidence(test: Test) -> None:
    """Bring what counts of the current result in line with the test."""
    result = Result.objects.filter(test=test, current=True).first()
    if result is None:
        return
    counts = bool(result.evidence_curve) and counts_as_evidence(test, result.figures)
    if counts != result.counts_as_evidence:
        result.counts_as_evidence = counts
        result.published = published_figures.extract_published_figures(result.figures) if counts else None
        result.save(update_fields=["counts_as_evidence", "published"])


def _get_listed_cores(recipe: Mapping[str, Any]) -> dict[str, ListedCore]:
    parts = [core["part"] for core in recipe["cores"] if "part" in core]
    if not parts:
        return {}
    columns = ("part", "shape", "outer_mm", "inner_mm", "height_mm", "al_nh", "al_tolerance_percent")
    found = {}
    for part, shape, *size, al_nh, percent in Core.objects.filter(part__in=parts).values_list(*columns):
        outer, inner, height = size
        ring = shape in RINGS and None not in size
        found[part] = ListedCore(
            (outer, inner, height) if ring else None,
            None if al_nh is None else al_nh * 1e-9,
            None if percent is None else percent / 100,
        )
    return found


def _get_wires_mm(recipe: Mapping[str, Any]) -> dict[str, float | None]:
    name = recipe["winding"]["conductor"]
    return dict(Conductor.objects.filter(name=name).values_list("name", "outer_mm"))


def _build_table(mu_initial: float | None, rows: list[list[float]]) -> Permeability | None:
    """Build the published table, or where there is none what the initial permeability says."""
    if len(rows) >= 2:
        freq_hz, real, imag = np.array(rows, dtype=np.float64).T
        return Permeability(freq_hz, real, imag)
    return None if not mu_initial else recipe_contradiction.build_flat_table(mu_initial)


def _format_check(found: RecipeCheck) -> dict[str, Any]:
    """Format it as JSON, figures with four significant digits."""
    rounded: dict[str, Any] = _round_values(asdict(found))
    return rounded


def _round_values(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _round_values(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_round_values(each) for each in value]
    return float(f"{value:.4g}") if isinstance(value, float) else value
