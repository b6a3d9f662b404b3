"""A design's curves of loss and match over frequency, from its cells in the current release.

Loss and the part of it that becomes heat are published with their steps; mismatch and heat follow from the
rounded figures, so that all of them say the same. They are figures of a sweep at milliwatts: nothing here
says what a device withstands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from django.db.models import F

from measurements.disclosure import evidence_view, rounding
from measurements.disclosure.viewers import Circle, Viewer, get_circle
from measurements.errors import BenchnightError
from measurements.models import Cell, Design, group_settings
from measurements.rf.evidence_grid import GRID_HZ
from measurements.rf.sweeps.sweep import Floats
from measurements.selectors.evidence import design_curves
from measurements.selectors.evidence.design_curves import STATISTICS, CurveSet, Statistic
from measurements.verdict.judged_kinds import COMMON_MODE, INSERTION_LOSS, LOAD_MATCH

# kind -> metric whose steps a curve on the grid leaves in
_STEPS_OF = {"loss_db": "loss_db", "dissipative_db": "loss_db", "swr": "swr"}


@dataclass(frozen=True)
class LossCurveSet:
    """Loss of a design's devices over frequency, as one circle may see it.

    Each statistic is {"median", "p10", "p90"} -> list of F numbers, None where a frequency is not shown; p10
    and p90 are None as a whole below ten persons. dissipative_db, heat_w_per_100_w: the part of the loss that
    becomes heat; None where some vote's method cannot know it. mismatch_db: the rest of the median.
    """

    freq_hz: tuple[float, ...]
    loss_db: Statistic
    dissipative_db: Statistic | None
    mismatch_db: Statistic | None
    heat_w_per_100_w: Statistic | None
    devices: int | str
    kind: str = INSERTION_LOSS


@dataclass(frozen=True)
class MatchCurveSet:
    """SWR of a design's devices in their nominal load over frequency; statistics as in `LossCurveSet`."""

    freq_hz: tuple[float, ...]
    swr: Statistic
    devices: int | str
    kind: str = LOAD_MATCH


AnyCurveSet = CurveSet | LossCurveSet | MatchCurveSet


def get_curves_of_kind(viewer: Viewer, key: str, kind: str) -> AnyCurveSet | None:
    """Return the curves of one kind of test that this viewer may see; None where there are too few persons.

    Raises BenchnightError `design.not_found`.
    """
    if kind == COMMON_MODE:
        return design_curves.get_design_curves(viewer, key)
    design = Design.objects.reached(key)
    if design is None:
        raise BenchnightError("design.not_found", "There is no such design.", kind="not_found")
    cell = Cell.objects.filter(design=design, kind=kind, band="", last_release=None).first()
    return None if cell is None else _build_curve_set(cell, get_circle(viewer))


def get_curves_of_kind_by_design(viewer: Viewer, keys: Sequence[str], kind: str) -> dict[str, AnyCurveSet]:
    """Return by key the curves of one kind of those designs that this viewer may see; two queries at most."""
    if kind == COMMON_MODE:
        return dict(design_curves.get_curves_by_design(viewer, keys))
    cells = Cell.objects.filter(design__key__in=keys, kind=kind, band="", last_release=None)
    circle = get_circle(viewer)
    found = {cell.of: _build_curve_set(cell, circle) for cell in cells.annotate(of=F("design__key"))}
    return {key: curves for key in keys if (curves := found.get(key)) is not None}


def _build_curve_set(cell: Cell, seen_by: Circle) -> LossCurveSet | MatchCurveSet | None:
    """Round what a cell holds of its curves for one circle; None where too few persons stand behind it."""
    least = evidence_view.get_min_contributors(seen_by, group_settings.get_thresholds())
    if cell.contributors < least or not cell.curves:
        return None
    if not (np.array(cell.curves["contributors"]) >= least).any():
        return None
    devices = cell.devices if seen_by == "members" else rounding.format_count_band(cell.devices)
    if cell.kind == LOAD_MATCH:
        return MatchCurveSet(tuple(GRID_HZ), _list_statistic(_round_curve(cell, "swr", least)), devices)
    loss = _round_curve(cell, "loss_db", least)
    heat = _round_curve(cell, "dissipative_db", least) if "dissipative_db" in cell.curves else None
    return LossCurveSet(
        freq_hz=tuple(GRID_HZ),
        loss_db=_list_statistic(loss),
        dissipative_db=None if heat is None else _list_statistic(heat),
        mismatch_db=None if heat is None else _list_median(loss["median"] - heat["median"]),
        heat_w_per_100_w=None
        if heat is None
        else _list_statistic({name: compute_heat_w(values) for name, values in heat.items()}),
        devices=devices,
    )


def compute_heat_w(dissipative_db: Floats) -> Floats:
    """Return the watts of every 100 W that stay in a device, 100 (1 - 10^(-dissipative/10))."""
    return 100.0 * (1.0 - 10.0 ** (-dissipative_db / 10.0))


def _round_curve(cell: Cell, name: str, least: int) -> dict[str, Floats]:
    """Round each statistic of a curve, NaN where it is not shown. least: persons behind a median."""
    persons = np.array(cell.curves["contributors"])
    detailed = evidence_view.has_detail(persons, group_settings.get_thresholds())
    found = {}
    for statistic in STATISTICS:
        exact = np.array(cell.curves[name][statistic], dtype=np.float64)
        rounded = rounding.round_figures(exact, _STEPS_OF[name], detailed)
        found[statistic] = np.where(persons >= least if statistic == "median" else detailed, rounded, np.nan)
    return found


def _list_statistic(values: dict[str, Floats]) -> Statistic:
    return {
        name: design_curves.round_for_json(own, 4) if np.isfinite(own).any() else None
        for name, own in values.items()
    }


def _list_median(values: Floats) -> Statistic:
    """List a curve that only the median has: percentiles of a difference do not follow from others."""
    nothing = np.full(values.shape, np.nan)
    return _list_statistic({"median": values, "p10": nothing, "p90": nothing})
