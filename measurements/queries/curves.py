"""A design's curves over frequency, from its cell in the current release."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from django.db.models import F
from numpy.typing import NDArray

from measurements.disclosure import evidence_view
from measurements.disclosure.circles import Circle, Viewer, circle
from measurements.disclosure.row_ids import in_release_order
from measurements.errors import BenchnightError
from measurements.models import Cell, Design, EvidenceSample, Release, group
from measurements.queries.rows import CurveSet
from measurements.rf.grid import GRID_HZ

MOST_SAMPLES = 40  # curves on a chart: more only blacken it, and the percentiles say what they would
REFERENCE_OHM = 50.0
_CURVE = np.dtype("<c8")
_IMPEDANCES = ("resistance_ohm", "reactance_ohm", "impedance_ohm")
Statistic = dict[str, list[float | None] | None]
_HIDDEN: Statistic = {"median": None, "p10": None, "p90": None}


def of_design(viewer: Viewer, key: str, *, samples: bool = True) -> CurveSet | None:
    """The curves this viewer may see; None where the release holds too little of the design.

    The public sees the median of rejection in steps of 0.5 dB; members everything, and the curves of
    up to 40 devices unless `samples` is False. Raises BenchnightError `design.not_found`.
    """
    design = Design.objects.reached(key)
    if design is None:
        raise BenchnightError("design.not_found", "There is no such design.", kind="not_found")
    cell = Cell.objects.filter(design=design, last_release=None).first()
    least = evidence_view.least_contributors(circle(viewer), group.thresholds())
    return None if cell is None else _of_cell(cell, circle(viewer), least, samples)


def of_designs(viewer: Viewer, keys: Sequence[str]) -> dict[str, CurveSet]:
    """By key, the curves of those designs that this viewer may see, no single devices; two queries."""
    least = evidence_view.least_contributors(circle(viewer), group.thresholds())
    cells = Cell.objects.filter(design__key__in=keys, last_release=None).annotate(of=F("design__key"))
    found = {cell.of: _of_cell(cell, circle(viewer), least, samples=False) for cell in cells}
    return {key: curves for key in keys if (curves := found.get(key)) is not None}


def _of_cell(cell: Cell, seen_by: Circle, least: int, samples: bool) -> CurveSet | None:
    if cell.contributors < least or not cell.curves:
        return None
    if seen_by == "public":
        return _public(cell, least)
    return CurveSet(
        freq_hz=tuple(GRID_HZ),
        rejection_db=cell.curves["rejection_db"],
        **{name: cell.curves[name] for name in _IMPEDANCES},
        devices=cell.devices,
        samples=_samples(cell) if samples else (),
    )


def _public(cell: Cell, least: int) -> CurveSet | None:
    statistic = cell.curves["rejection_db"]
    enough = np.array(cell.curves["contributors"]) >= least
    median = evidence_view.coarse_db(np.array(statistic["median"], dtype=float))
    if not enough.any():
        return None
    shown = listed(np.where(enough, median, np.nan), 1)
    return CurveSet(
        freq_hz=tuple(GRID_HZ),
        rejection_db={"median": shown, "p10": None, "p90": None},
        resistance_ohm=_HIDDEN,
        reactance_ohm=_HIDDEN,
        impedance_ohm=_HIDDEN,
        devices=evidence_view.count_band(cell.devices),
        samples=(),
    )


def _samples(cell: Cell) -> tuple[list[float | None], ...]:
    """Curves of up to 40 devices, in the order of the ids of this release, which is no order at all."""
    rows = EvidenceSample.objects.filter(cell=cell).values_list("id", "curve")
    salt = Release.objects.order_by("-number").values_list("salt", flat=True).first() or b""
    drawn = in_release_order(bytes(salt), rows, lambda row: row[0].hex)[:MOST_SAMPLES]
    return tuple(listed(rejection_db(np.frombuffer(row[1], _CURVE)), 2) for _, row in drawn)


def rejection_db(z_ohm: NDArray[Any]) -> NDArray[np.float64]:
    """20 log10 |1 + Z/(2 Z0)| at 50 ohm, NaN where Z is (series impedance, CISPR 17)."""
    known = np.isfinite(z_ohm)
    ratio = np.abs(1 + np.where(known, z_ohm, 0).astype(np.complex128) / (2 * REFERENCE_OHM))
    found: NDArray[np.float64] = np.where(
        known & (ratio > 0), 20 * np.log10(np.maximum(ratio, 1e-300)), np.nan
    )
    return found


def listed(values: NDArray[np.float64], digits: int) -> list[float | None]:
    """Numbers for JSON: rounded, None for NaN."""
    return [round(float(value), digits) if np.isfinite(value) else None for value in values]
