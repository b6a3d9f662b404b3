"""Where an own test stands: against its recipe, and within the published evidence of its design."""

from __future__ import annotations

from typing import Any

from measurements.disclosure import evidence_view
from measurements.disclosure.circles import Viewer, circle
from measurements.models import Design, group
from measurements.queries import evidence_table, recipe_checks, tests
from measurements.queries.evidence_table import EvidenceTable
from measurements.queries.rows import ComparisonRow, TestRow
from measurements.verdict.comparison import stand


def of_test(viewer: Viewer, key: str) -> ComparisonRow:
    """Per band of a common-mode test: percentile and distance from the median of the design's devices.

    A band without enough published devices carries nulls. Raises BenchnightError `test.not_found`.
    """
    test = tests.one(viewer, key)
    table = evidence_table.current()
    least = evidence_view.least_contributors(circle(viewer), group.thresholds())
    bands = test.result["bands"] if test.kind == "common_mode" else []
    return ComparisonRow(
        test=test.key,
        design=test.design,
        design_title=test.design_title,
        release=None if table is None else table.release,
        bands=tuple(_band(table, test, band, least) for band in bands),
        checks=recipe_checks.notes(_recipe(test), test.result, tests.traces(viewer, key)),
    )


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
