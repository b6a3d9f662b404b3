"""Where an own test stands: against its recipe, and within the published evidence of its design."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from measurements.disclosure import rounding
from measurements.disclosure.viewers import Viewer
from measurements.models import Design, Result
from measurements.rf.diagnosis import curve_difference
from measurements.rf.diagnosis.curve_difference import CurveDifference, OwnCurve
from measurements.rf.diagnosis.named_causes import Cause, Likelihood
from measurements.rf.diagnosis.outlying_curve import DesignRange, RecipeFacts
from measurements.rf.evidence_grid import GRID_HZ
from measurements.selectors.designs import designs, recipe_checks
from measurements.selectors.evidence import design_curves, evidence_table
from measurements.selectors.evidence.design_curves import CurveSet
from measurements.selectors.predictions import prediction_basis
from measurements.selectors.tests import ratio_diagnosis, tests
from measurements.selectors.tests.tests import TestRow
from measurements.verdict.comparison import estimate_percentile

_PERCENTS = {"p10": 10.0, "p25": 25.0, "median": 50.0, "p75": 75.0, "p90": 90.0}


@dataclass(frozen=True)
class ComparisonRow:
    """Where an own test stands: against its recipe and beside its design's evidence.

    bands without enough evidence carry nulls; percentile is of ten persons or more, between those shown, so
    10 means "at most" and 90 "at least". checks: notes on the recipe, of the form of a result's
    flags. outlier: whether the curve leaves the range of the design's, None where nobody can say. basis: what
    the one diagnosis rests on: `design`, the published curves of the design, or where there are none
    `recipe`; None where neither can tell. causes: what it names, each with the figures it rests on.
    likelihoods: its posterior (see `rf.diagnosis.change_posterior`). ratio_diagnosis: of a voltage balun or
    unun whose match or loss falls short (see `ratio_diagnosis`).
    """

    test: str
    design: str | None
    design_title: str
    release: int | None
    bands: tuple[dict[str, Any], ...]
    checks: tuple[dict[str, Any], ...]
    outlier: bool | None
    causes: tuple[dict[str, Any], ...]
    likelihoods: tuple[dict[str, Any], ...] = ()
    basis: str | None = None
    ratio_diagnosis: dict[str, Any] | None = None


# Why an own common-mode test differs from its design's evidence: tables in,
# `rf.diagnosis.curve_difference` out.

_CURVE = np.dtype("<c8")


@dataclass(frozen=True)
class CurveComparison:
    """An own curve (G,) on the grid of evidence, beside the curves of its design."""

    own_ohm: NDArray[np.complex128]
    design: CurveSet

    @property
    def rejection_db(self) -> list[float | None]:
        return design_curves.round_for_json(design_curves.compute_rejection_db(self.own_ohm), 2)

    @property
    def impedance_ohm(self) -> list[float | None]:
        return design_curves.round_for_json(np.abs(self.own_ohm), 1)


def get_curve_comparison(viewer: Viewer, test: TestRow) -> CurveComparison | None:
    """Return the curve of a test that the viewer sees and those of its design; None where one is missing."""
    if test.kind != "common_mode" or test.design is None:
        return None
    stored = Result.objects.filter(test__key=test.key, current=True).values_list("evidence_curve", flat=True)
    own = np.frombuffer(bytes(stored[0]), _CURVE).astype(np.complex128)
    design = design_curves.get_design_curves(viewer, test.design) if own.size else None
    return None if design is None else CurveComparison(own, design)


def explain_difference(
    viewer: Viewer, both: CurveComparison, recipe: Mapping[str, Any], traces: Mapping[str, Any]
) -> CurveDifference | None:
    """Describe how the curve differs, and the likely causes; None where there is too little evidence.

    How far builds spread is what predictions for this viewer rest on. recipe: in normal form. traces: of
    the test, for the floor of its jig.
    """
    design = _build_range(both.design)
    if design is None:
        return None
    own = OwnCurve(both.own_ohm, _on_grid(traces, "rejection_raw_db"), _floor_db(traces))
    known = prediction_basis.get_prediction_basis(viewer)
    return curve_difference.explain_difference(
        design, own, _build_winding(recipe), known.tables, known.model.spreads
    )


def _build_range(known: CurveSet) -> DesignRange | None:
    """Build the range of a design's curves from what is shown of it; None below ten persons.

    A percentile that is shown in steps lies within half a step of the true one: the range reaches so far.
    """
    if not isinstance(known.devices, int) or known.rejection_db["p10"] is None:
        return None
    median_ohm = _array(known.resistance_ohm["median"]) + 1j * _array(known.reactance_ohm["median"])
    half_db = rounding.get_step("rejection_db", detailed=True) / 2
    low_ohm, high_ohm = (
        np.abs(rounding.build_impedances(_array(known.rejection_db[name]) + away_db, np.angle(median_ohm)))
        for name, away_db in (("p10", -half_db), ("p90", half_db))
    )
    return DesignRange(GRID_HZ, median_ohm.real, median_ohm.imag, low_ohm, high_ohm, known.devices)


def _build_winding(recipe: Mapping[str, Any]) -> RecipeFacts:
    """Return a single pass counts by its cores, a winding by its turns. Cores of several mixes have no one
    table.
    """
    turns, mixes = recipe["winding"]["turns"], {core["mix"] for core in recipe["cores"]}
    mix = mixes.pop() if len(mixes) == 1 else ""
    if turns == 1:
        return RecipeFacts(sum(core["stacked"] for core in recipe["cores"]), mix, beads=True)
    return RecipeFacts(turns, mix)


def _floor_db(traces: Mapping[str, Any]) -> NDArray[np.float64] | None:
    return _on_grid(traces, "floor_db") if traces.get("floor_db") else None


def _on_grid(traces: Mapping[str, Any], name: str) -> NDArray[np.float64]:
    """Return a trace on the grid, NaN where the sweep does not reach or nothing is known."""
    if not traces.get(name):
        return np.full(GRID_HZ.size, np.nan)
    on_grid: NDArray[np.float64] = np.interp(
        GRID_HZ, _array(traces["freq_hz"]), _array(traces[name]), left=np.nan, right=np.nan
    )
    return on_grid


def _array(values: list[float | None] | None) -> NDArray[np.float64]:
    return np.full(GRID_HZ.size, np.nan) if values is None else np.array(values, dtype=np.float64)


def compare_test(viewer: Viewer, key: str) -> ComparisonRow:
    """Compare what a test says of its recipe, its place among the design's devices, and why it may differ.

    Raises BenchnightError `test.not_found`.
    """
    test, traces = tests.get_test(viewer, key), tests.get_traces(viewer, key)
    table, recipe = evidence_table.get_evidence_table(), _find_recipe(test)
    evidence = (
        [] if test.design is None else designs.get_design_evidence(viewer, test.design, kind="common_mode")
    )
    seen = {each["band"]: each for each in evidence}
    bands = test.result["bands"] if test.kind == "common_mode" else []
    both = get_curve_comparison(viewer, test)
    difference = None if both is None or recipe is None else explain_difference(viewer, both, recipe, traces)
    basis, causes, likelihoods = _get_diagnosis(test, difference)
    return ComparisonRow(
        test=test.key,
        design=test.design,
        design_title=test.design_title,
        release=None if table is None else table.release,
        bands=tuple(_compare_band(band, seen.get(band["band"])) for band in bands),
        checks=() if recipe is None else recipe_checks.list_recipe_notes(recipe),
        outlier=None if difference is None else difference.outlier,
        causes=causes,
        likelihoods=likelihoods,
        basis=basis,
        ratio_diagnosis=ratio_diagnosis.diagnose_ratio_test(viewer, test, recipe),
    )


def _get_diagnosis(
    test: TestRow, difference: CurveDifference | None
) -> tuple[str | None, tuple[dict[str, Any], ...], tuple[dict[str, Any], ...]]:
    """Get the one diagnosis of a device: by the others of its design, or where they are too few by its recipe
    alone."""
    if difference is not None:
        causes = tuple(_cause_values(each) for each in difference.causes)
        return "design", causes, tuple(_likelihood_values(each) for each in difference.likelihoods)
    if test.recipe_doubt is None:
        return None, (), ()
    known = test.recipe_doubt
    likelihoods = tuple({**each, "share": round(each["share"], 2)} for each in known["likelihoods"])
    return "recipe", tuple(known["causes"]), likelihoods


def _cause_values(cause: Cause) -> dict[str, Any]:
    """Return a cause as it leaves: figures with four significant digits, None for those that are not of
    it.
    """
    return {
        name: float(f"{value:.4g}") if isinstance(value, float) else value
        for name, value in asdict(cause).items()
    }


def _likelihood_values(each: Likelihood) -> dict[str, Any]:
    return {"code": each.code, "what": each.what, "share": round(each.share, 2)}


def _find_recipe(test: TestRow) -> dict[str, Any] | None:
    """Return the recipe of the test's device; None while its build is not known."""
    if test.design is None:
        return None
    recipe: dict[str, Any] = Design.objects.values_list("recipe", flat=True).get(key=test.design)
    return recipe


def _compare_band(band: dict[str, Any], seen: Mapping[str, Any] | None) -> dict[str, Any]:
    """Set an own figure beside what its owner sees of the design on the band. seen: the evidence object."""
    own_db = band.get("rejection_db", {}).get("worst")
    row: dict[str, Any] = {"band": band["band"], "own_db": own_db}
    row.update(devices=None, percentile=None, median_db=None, from_median_db=None)
    median_db = None if seen is None else seen["rejection_db"]["median"]
    if seen is None or own_db is None or median_db is None:
        return row
    row.update(
        devices=seen["devices"],
        percentile=_place(own_db, seen["rejection_db"]),
        median_db=median_db,
        from_median_db=round(own_db - median_db, 2),
    )
    return row


def _place(own_db: float, figures: Mapping[str, Any]) -> float | None:
    """Place an own figure between the percentiles that are shown; None below ten persons."""
    shown = {percent: figures[name] for name, percent in _PERCENTS.items()}
    if None in shown.values():
        return None
    place = estimate_percentile(own_db, shown)
    return None if place is None else round(place)
