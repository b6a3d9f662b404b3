"""Where an own test stands: against its recipe, and within the published evidence of its design."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from measurements.disclosure import evidence_view
from measurements.disclosure.circles import Viewer, circle
from measurements.models import Design, group
from measurements.queries import diagnosis, evidence_table, recipe_checks, tests
from measurements.queries.evidence_table import EvidenceTable
from measurements.queries.rows import ComparisonRow, TestRow
from measurements.rf.difference_causes import Cause
from measurements.rf.difference_likelihood import Likelihood
from measurements.verdict.comparison import stand


def of_test(viewer: Viewer, key: str) -> ComparisonRow:
    """What a test says of its recipe, its place among the design's devices, and why it may differ.

    Raises BenchnightError `test.not_found`.
    """
    test, traces = tests.one(viewer, key), tests.traces(viewer, key)
    table, recipe = evidence_table.current(), _recipe(test)
    least = evidence_view.least_contributors(circle(viewer), group.thresholds())
    bands = test.result["bands"] if test.kind == "common_mode" else []
    both = diagnosis.beside(viewer, test)
    difference = None if both is None else diagnosis.of_test(viewer, both, recipe, traces)
    return ComparisonRow(
        test=test.key,
        design=test.design,
        design_title=test.design_title,
        release=None if table is None else table.release,
        bands=tuple(_band(table, test, band, least) for band in bands),
        checks=recipe_checks.notes(recipe, test.result, traces),
        outlier=None if difference is None else difference.outlier,
        causes=() if difference is None else tuple(_cause(each) for each in difference.causes),
        likelihoods=() if difference is None else tuple(_share(each) for each in difference.likelihoods),
    )


def _cause(cause: Cause) -> dict[str, Any]:
    """A cause as it leaves: figures with four significant digits, None for those that are not of it."""
    return {
        name: float(f"{value:.4g}") if isinstance(value, float) else value
        for name, value in asdict(cause).items()
    }


def _share(each: Likelihood) -> dict[str, Any]:
    return {"code": each.code, "what": each.what, "share": round(each.share, 2)}


def _recipe(test: TestRow) -> dict[str, Any]:
    recipe: dict[str, Any] = Design.objects.values_list("recipe", flat=True).get(key=test.design)
    return recipe


def _band(table: EvidenceTable | None, test: TestRow, band: dict[str, Any], least: int) -> dict[str, Any]:
    own_db = band.get("rejection_db", {}).get("worst")
    row: dict[str, Any] = {"band": band["band"], "own_db": own_db}
    row.update(devices=None, percentile=None, median_db=None, from_median_db=None)
    if table is None or own_db is None or test.design not in table.index_of:
        return row
    if table.people[table.index_of[test.design]] < least:
        return row
    place = stand(round(own_db, 2), table.column_db(test.design, band["band"]))
    if place is not None and place.devices >= least:
        row.update(
            devices=place.devices,
            percentile=round(float(place.percentile), 1),
            median_db=round(float(place.median_db), 2),
            from_median_db=round(float(place.from_median_db), 2),
        )
    return row
