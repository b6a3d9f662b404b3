"""Why an own common-mode test differs from its design's evidence: tables in, `rf.curve_difference` out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from measurements.disclosure.circles import Viewer
from measurements.models import Result
from measurements.queries import believed, curves
from measurements.queries.rows import CurveSet, TestRow
from measurements.rf import curve_difference
from measurements.rf.curve_difference import Difference, OwnCurve
from measurements.rf.design_range import DesignRange
from measurements.rf.grid import GRID_HZ
from measurements.rf.outlying_curve import Made

_CURVE = np.dtype("<c8")


@dataclass(frozen=True)
class Beside:
    """An own curve (G,) on the grid of evidence, beside the curves of its design."""

    own_ohm: NDArray[np.complex128]
    design: CurveSet

    @property
    def rejection_db(self) -> list[float | None]:
        return curves.listed(curves.rejection_db(self.own_ohm), 2)

    @property
    def impedance_ohm(self) -> list[float | None]:
        return curves.listed(np.abs(self.own_ohm), 1)


def beside(viewer: Viewer, test: TestRow) -> Beside | None:
    """The curve of a test that the viewer sees and those of its design; None where one is missing."""
    if test.kind != "common_mode":
        return None
    stored = Result.objects.filter(test__key=test.key, current=True).values_list("evidence_curve", flat=True)
    own = np.frombuffer(bytes(stored[0]), _CURVE).astype(np.complex128)
    design = curves.of_design(viewer, test.design, samples=False) if own.size else None
    return None if design is None else Beside(own, design)


def of_test(
    viewer: Viewer, both: Beside, recipe: Mapping[str, Any], traces: Mapping[str, Any]
) -> Difference | None:
    """How the curve differs, and the likely causes; None where too little is there to say.

    How far builds spread is what predictions for this viewer rest on. recipe: in normal form. traces: of
    the test, for the floor of its jig.
    """
    known = both.design
    if not isinstance(known.devices, int):
        return None
    design = DesignRange(
        GRID_HZ,
        _array(known.resistance_ohm["median"]),
        _array(known.reactance_ohm["median"]),
        _array(known.impedance_ohm["p10"]),
        _array(known.impedance_ohm["p90"]),
        known.devices,
    )
    own = OwnCurve(both.own_ohm, _on_grid(traces, "rejection_raw_db"), _floor_db(traces))
    known = believed.of(viewer)
    return curve_difference.explain(design, own, _made(recipe), known.tables, known.model.spreads)


def _made(recipe: Mapping[str, Any]) -> Made:
    """A single pass counts by its cores, a winding by its turns. Cores of several mixes have no one table."""
    turns, mixes = recipe["winding"]["turns"], {core["mix"] for core in recipe["cores"]}
    mix = mixes.pop() if len(mixes) == 1 else ""
    if turns == 1:
        return Made(sum(core["stacked"] for core in recipe["cores"]), mix, beads=True)
    return Made(turns, mix)


def _floor_db(traces: Mapping[str, Any]) -> NDArray[np.float64] | None:
    return _on_grid(traces, "floor_db") if traces.get("floor_db") else None


def _on_grid(traces: Mapping[str, Any], name: str) -> NDArray[np.float64]:
    """A trace on the grid, NaN where the sweep does not reach or nothing is known."""
    if not traces.get(name):
        return np.full(GRID_HZ.size, np.nan)
    on_grid: NDArray[np.float64] = np.interp(
        GRID_HZ, _array(traces["freq_hz"]), _array(traces[name]), left=np.nan, right=np.nan
    )
    return on_grid


def _array(values: list[float | None] | None) -> NDArray[np.float64]:
    return np.full(GRID_HZ.size, np.nan) if values is None else np.array(values, dtype=np.float64)
